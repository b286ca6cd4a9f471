using System.Text;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Commands;

/// <summary>
/// A report that was computed and only has to be written. The JSON grows with every trial ever measured and is written while it is made;
/// the others grow with the number of cards and are one text.
/// </summary>
internal sealed class ReadyReport
{
    private const int PieceChars = 64 * 1024;

    private readonly Func<Stream, CancellationToken, Task> _write;

    private ReadyReport(Func<Stream, CancellationToken, Task> write) => _write = write;

    /// <summary>The names of the renderings.</summary>
    internal static IReadOnlyList<string> Formats { get; } = ["first", "terminal", "html", "markdown", "csv", "json"];

    /// <summary>A text that is there already.</summary>
    internal static ReadyReport Of(string text) => new((to, cancellationToken) => WriteAsync(text, to, cancellationToken));

    /// <summary>A rendering of the model.</summary>
    /// <param name="model">The report.</param>
    /// <param name="format">One of <see cref="Formats"/>.</param>
    /// <param name="isServed">True where a person follows its links at the collector.</param>
    /// <exception cref="ArgumentOutOfRangeException">It is none of them.</exception>
    internal static ReadyReport Of(ReportModel model, string format, bool isServed = false) => format == "json"
        ? new((to, cancellationToken) => JsonReport.WriteAsync(model, to, cancellationToken))
        : OfText(model with { Cards = [.. model.Cards] }, format, isServed);

    private static ReadyReport OfText(ReportModel model, string format, bool isServed) => format switch
    {
        "first" => Of(FirstPageText.Render(model)),
        "terminal" => Of(TerminalReport.Render(model)),
        "html" => Of(HtmlReport.Render(model, isServed)),
        "markdown" => Of(MarkdownReport.Render(model)),
        "csv" => Of(CsvReport.Render(model)),
        _ => throw new ArgumentOutOfRangeException(nameof(format), format, null),
    };

    /// <summary>Writes the report as UTF-8.</summary>
    /// <param name="to">Where; it stays open.</param>
    /// <param name="cancellationToken">Ends the writing in the middle.</param>
    internal Task WriteAsync(Stream to, CancellationToken cancellationToken) => _write(to, cancellationToken);

    private static async Task WriteAsync(string text, Stream to, CancellationToken cancellationToken)
    {
        await using var writer = new StreamWriter(to, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false), PieceChars,
            leaveOpen: true);
        await writer.WriteAsync(text.AsMemory(), cancellationToken);
    }
}
