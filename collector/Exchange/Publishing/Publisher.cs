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
    /// <param name="entries">All master data as a collector's store gives them: records by (epoch, sequence), each once. They are gone through several times.</param>
    /// <param name="options">What to show.</param>
    /// <param name="profileFile">A profile of the user's own, or null.</param>
    /// <exception cref="ArgumentException">A column or card does not exist.</exception>
    internal Evidence Make(IEnumerable<V1.IntakeEntry> entries, PublicationOptions options, byte[]? profileFile)
    {
        Redaction redaction = Redaction.Of(entries, options.Prices);
        using var store = new SpooledStore(redaction.Entries.Select(e => e.Entry));
        MasterData whole = MasterDataLoader.Load(store);
        (long records, long conflicts) = store.Count();
        var evidence = new Evidence
        {
            MadeWith = CollectorVersion.Text,
            AsOfUnixNs = (whole.AsOf - DateTimeOffset.UnixEpoch).Ticks * 100,
            Options = options with { Cards = [.. options.Cards.Select(redaction.NameOf)] },
            ProfileFile = profileFile,
            Entries = redaction.Entries,
            Records = (int)(records + conflicts),
            Notes = store.Events().Count,
            Unreadable = redaction.Unreadable,
        };
        return Computed(evidence, whole);
    }

    /// <summary>What in the evidence, and in a table copied from elsewhere, does not follow from its records.</summary>
    /// <param name="evidence">The evidence.</param>
    /// <param name="copied">Text and name of the table, or null.</param>
    /// <returns>Each difference as a sentence naming the figure; none when all agrees.</returns>
    internal Verification Check(Evidence evidence, (string Text, string Name)? copied = null)
    {
        Evidence computed = Computed(evidence, evidence.Data());
        (IReadOnlyList<Fragment> markdown, IReadOnlyList<Fragment> html, IReadOnlyList<Fragment> trials) = computed.Fragments!.Value;
        List<string> differences =
        [
            .. FiguresCheck.Differences(computed.Figures, evidence.Figures),
            .. TextCheck.Difference(markdown, evidence.Markdown, "table.md"),
            .. TextCheck.Difference(html, evidence.Html, "table.html"),
            .. TextCheck.Difference(trials, evidence.Trials, "trials.csv"),
            .. TextCheck.Difference([new Fragment(EvidenceZip.Script, "what it does")], evidence.Script, "recompute.py"),
            .. TextCheck.Difference([new Fragment(EvidenceReadme.Of(computed), "what it says of itself")], evidence.Readme, "README.txt"),
        ];
        if (copied is { } table)
        {
            bool isHtml = table.Text.Contains("<table", StringComparison.OrdinalIgnoreCase);
            differences.AddRange(TextCheck.Difference(isHtml ? html : markdown, table.Text, table.Name));
        }

        return new Verification(evidence.Records, FiguresCheck.Count(computed.Figures), differences);
    }

    private Evidence Computed(Evidence evidence, MasterData data)
    {
        ReportModel model = report(data, evidence.Profile());
        Publication publication = Publication.Of(model, evidence.Options, evidence.Records);
        IReadOnlyList<Fragment> markdown = PublishedText.Markdown(publication);
        IReadOnlyList<Fragment> html = PublishedText.Html(publication), trials = TrialMarks.Of(model);
        return evidence with
        {
            Markdown = PublishedText.Join(markdown),
            Html = PublishedText.Join(html),
            Figures = CsvReport.Render(model),
            Trials = PublishedText.Join(trials),
            Report = model,
            Fragments = (markdown, html, trials),
        };
    }
}
