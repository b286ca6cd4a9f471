using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Commands;

/// <summary>Makes what comes in the morning from what this collector holds.</summary>
internal sealed class MorningMaker(Projection projection, ReportDesk reports, CollectorOptions options) : IMorningReports
{
    /// <inheritdoc/>
    public Task<MorningSigns> SignsAsync(CancellationToken cancellationToken) => projection.ReadCaughtUpAsync(
        store => projection.Load(store),
        data =>
        {
            (ReportModel model, DateOnly night) = reports.Latest(data);
            return MorningSigns.Of(model, Text(night));
        },
        cancellationToken);

    /// <inheritdoc/>
    public async Task<MorningReport?> MakeAsync(DateOnly night, CancellationToken cancellationToken)
    {
        (EntrySpool Spool, MorningReport? Report) made = await projection.ReadCaughtUpAsync(
            store => (Data: projection.Load(store), Spool: EntryFeed.Spooled(store, options.DataFolder)),
            read =>
            {
                try
                {
                    return (read.Spool, Of(reports, read.Data, night));
                }
                catch
                {
                    read.Spool.Dispose();
                    throw;
                }
            },
            cancellationToken);
        using EntrySpool entries = made.Spool;
        return made.Report is { } report
            ? report with
            {
                Table = await Task.Run(
                    () => new Publisher(ReportDesk.Model).Make(entries.Entries(), new PublicationOptions(), null).Markdown,
                    cancellationToken),
            }
            : null;
    }

    /// <summary>The report on a night, yet without the table; null when nothing was measured or due in it.</summary>
    internal static MorningReport? Of(ReportDesk reports, MasterData data, DateOnly night)
    {
        (ReportModel model, DateOnly last) = reports.Latest(data);
        ReportModel? of = last > night ? reports.NightModel(data, new V1.ReportRequest(), night) : last == night ? model : null;
        return of is null || (of.Night.RunsBegun == 0 && of.Night.RunsPlanned is null or 0)
            ? null
            : From(of, Text(night)) with { Signs = last == night ? MorningSigns.Of(of, Text(night)) : null };
    }

    /// <summary>What of a finished report goes out, yet without the table.</summary>
    internal static MorningReport From(ReportModel report, string night) => new()
    {
        Night = night,
        Span = report.Span,
        GeneratedFor = report.GeneratedFor,
        Profile = report.Profile,
        Invented = report.Invented ? Wording.InventedMeaning(report) : "",
        FirstPage = report.First,
        FirstText = FirstPageText.Render(report),
        VerdictsNew = report.VerdictChanges.Count,
        NeedsPerson = report.NeedsPerson.Count,
        Html = HtmlReport.Render(report),
        Markdown = MarkdownReport.Render(report),
        Table = "",
    };

    private static string Text(DateOnly night) => night.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
