using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Notices.Morning;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>`report --folder`: all renderings into a folder, always or only when there is news.</summary>
internal static class ReportFolder
{
    private const string Json = "report.json";

    /// <summary>The renderings and their files.</summary>
    internal static IReadOnlyList<(string Format, string File)> Renderings { get; } =
    [
        ("terminal", "report.txt"), ("html", "report.html"), ("markdown", "report.md"), ("csv", "report.csv"), ("json", Json),
    ];

    /// <summary>Writes them and prints what was written.</summary>
    /// <param name="session">The collector.</param>
    /// <param name="request">What the report is to be; its format is set here.</param>
    /// <param name="folder">Where; made when it is not there.</param>
    /// <param name="onlyNews">True writes nothing unless a verdict changed or something newly needs a person since the report that is there.</param>
    /// <param name="cancellationToken">Ends the writing.</param>
    /// <exception cref="CommandException">A file cannot be written.</exception>
    internal static async Task WriteAsync(OperatorSession session, V1.ReportRequest request, string folder, bool onlyNews, CancellationToken cancellationToken)
    {
        Directory.CreateDirectory(folder);
        if (onlyNews && await SignsThereAsync(Path.Combine(folder, Json), cancellationToken) is { } there)
        {
            request.Format = "json";
            if (!(await SignsNowAsync(session, request, cancellationToken)).IsNewsAfter(there))
            {
                await Console.Error.WriteLineAsync($"No verdict changed and nothing newly needs a person since the report in {folder}; it stays as it is.");
                return;
            }
        }

        foreach ((string format, string file) in Renderings)
        {
            request.Format = format;
            string rendered = Path.Combine(folder, file);
            await WholeFile.WriteAsync(rendered, to => FetchAsync(session, request, to, cancellationToken), "--folder");
            Console.WriteLine(rendered);
        }
    }

    /// <summary>Fetches a report into a stream.</summary>
    internal static async Task FetchAsync(OperatorSession session, V1.ReportRequest request, Stream to, CancellationToken cancellationToken)
    {
        using AsyncServerStreamingCall<V1.ReportPart> call = session.Client.RenderReport(request, cancellationToken: cancellationToken);
        await foreach (V1.ReportPart part in call.ResponseStream.ReadAllAsync(cancellationToken))
        {
            await to.WriteAsync(part.Utf8.Memory, cancellationToken);
        }
    }

    /// <summary>Those of a report that was written before; null where there is none that can be read.</summary>
    private static async Task<MorningSigns?> SignsThereAsync(string path, CancellationToken cancellationToken)
    {
        try
        {
            await using FileStream file = File.OpenRead(path);
            return await MorningSignsFile.ReadAsync(file, cancellationToken);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    private static async Task<MorningSigns> SignsNowAsync(OperatorSession session, V1.ReportRequest request, CancellationToken cancellationToken)
    {
        // The JSON grows with every trial ever measured: it passes through the disk and not through memory.
        string folder = Scratch.MakeFolder("report");
        try
        {
            await using var file = new FileStream(Path.Combine(folder, Json), FileMode.CreateNew, FileAccess.ReadWrite);
            await FetchAsync(session, request, file, cancellationToken);
            file.Position = 0;
            return await MorningSignsFile.ReadAsync(file, cancellationToken) ?? throw new CommandException("The collector's report cannot be read: it is of another version.");
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}
