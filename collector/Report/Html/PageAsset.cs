using System.Text;

namespace Cardassay.Collector.Report.Html;

/// <summary>Style sheets and scripts that are built into the program.</summary>
internal static class PageAsset
{
    /// <summary>A style sheet on the paper all pages share: colours by light and dark, and typefaces.</summary>
    internal static string Style(string name) => Text("paper.css") + Text(name);

    /// <summary>What a file holds, as it was built in.</summary>
    internal static string Text(string name)
    {
        using Stream stream = typeof(PageAsset).Assembly.GetManifestResourceStream(name)
            ?? throw new InvalidOperationException($"The resource {name} is missing from the build.");
        using var reader = new StreamReader(stream, Encoding.UTF8);
        return reader.ReadToEnd();
    }
}
