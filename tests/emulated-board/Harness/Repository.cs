using System.Reflection;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>Places in the source tree this project was built from.</summary>
public static class Repository
{
    /// <summary>The root folder.</summary>
    public static string Folder { get; } = Metadata("RepositoryFolder");

    /// <summary>The collector built together with these tests; started with `dotnet`.</summary>
    public static string CollectorFile { get; } = Metadata("CollectorFile");

    /// <summary>A path below the root.</summary>
    public static string At(params string[] parts) => Path.Combine([Folder, .. parts]);

    private static string Metadata(string key) =>
        typeof(Repository).Assembly.GetCustomAttributes<AssemblyMetadataAttribute>().Single(a => a.Key == key).Value!;
}
