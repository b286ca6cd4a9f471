using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Makes the evidence of a publication from the master data, and checks one that somebody made.</summary>
/// <param name="report">How a report is made from master data.</param>
internal sealed class Publisher(Func<MasterData, UseProfile, ReportModel> report)
{
    /// <summary>Makes a publication.</summary>
    /// <param name="entries">All master data.</param>
    /// <param name="options">What to show.</param>
    /// <param name="profileFile">A profile of the user's own, or null.</param>
    /// <exception cref="ArgumentException">A column or card does not exist.</exception>
    internal Evidence Make(IReadOnlyCollection<V1.IntakeEntry> entries, PublicationOptions options, byte[]? profileFile)
    {
        Redaction redaction = Redaction.Of(entries, options.Prices);
        MasterData whole;
        using (Storage.Memory.MemoryRecordStore store = EntryStore.Of(redaction.Entries.Select(e => e.Entry)))
        {
            whole = MasterDataLoader.Load(store);
        }

        var evidence = new Evidence
        {
            MadeWith = CollectorVersion.Text,
            AsOfUnixNs = (whole.AsOf - DateTimeOffset.UnixEpoch).Ticks * 100,
            Options = options,
            ProfileFile = profileFile,
            Entries = redaction.Entries,
            Unreadable = redaction.Unreadable,
        };
        return Computed(evidence);
    }

    /// <summary>What in the evidence does not follow from its records, each as a sentence naming the figure; empty when all agrees.</summary>
    internal Verification Check(Evidence evidence)
    {
        Evidence computed = Computed(evidence);
        List<string> differences =
        [
            .. FiguresCheck.Differences(computed.Figures, evidence.Figures),
            .. TextCheck.Difference(computed.Fragments!.Value.Markdown, evidence.Markdown, "table.md"),
            .. TextCheck.Difference(computed.Fragments.Value.Html, evidence.Html, "table.html"),
        ];
        return new Verification(
            evidence.Entries.Count(e => e.Entry.Delivered is not null), FiguresCheck.Count(computed.Figures), differences);
    }

    /// <summary>What in a table copied from elsewhere does not follow from the records.</summary>
    internal IReadOnlyList<string> CheckTable(Evidence evidence, string table, string name)
    {
        (IReadOnlyList<Fragment> markdown, IReadOnlyList<Fragment> html) = Computed(evidence).Fragments!.Value;
        return [.. TextCheck.Difference(table.Contains("<table", StringComparison.OrdinalIgnoreCase) ? html : markdown, table, name)];
    }

    private Evidence Computed(Evidence evidence)
    {
        ReportModel model = report(evidence.Data(), evidence.Profile());
        Publication publication = Publication.Of(model, evidence.Options);
        IReadOnlyList<Fragment> markdown = PublishedText.Markdown(publication);
        IReadOnlyList<Fragment> html = PublishedText.Html(publication);
        return evidence with
        {
            Markdown = PublishedText.Join(markdown),
            Html = PublishedText.Join(html),
            Figures = CsvReport.Render(model),
            Fragments = (markdown, html),
        };
    }
}
