namespace Cardassay.EmulatedBoard.Harness;

/// <summary>The temporary folder of this test run; gone when the process ends. Its path is short: a socket's path holds 107 bytes.</summary>
public static class WorkFolder
{
    private static readonly Lazy<string> Once = new(Make);

    /// <summary>Path of the folder.</summary>
    public static string Path => Once.Value;

    /// <summary>A new path in the folder that nothing uses yet.</summary>
    public static string NewPath(string name) => System.IO.Path.Combine(Path, $"{Interlocked.Increment(ref number)}-{name}");

    private static int number;

    private static string Make()
    {
        string folder = Directory.CreateTempSubdirectory("board-").FullName;
        AppDomain.CurrentDomain.ProcessExit += (_, _) => Directory.Delete(folder, recursive: true);
        return folder;
    }
}
