using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Files;
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
    /// <param name="evidence">The evidence, read from its zip.</param>
    /// <param name="copied">The table and its name, or null. It is read once, from where it stands to its end.</param>
    /// <returns>Each difference as a sentence naming the figure; none when all agrees.</returns>
    internal Verification Check(Evidence evidence, (Stream Text, string Name)? copied = null)
    {
        Evidence computed = Computed(evidence, evidence.Data());
        Func<string, Stream> open = evidence.Open!;
        (IReadOnlyList<Fragment> markdown, IReadOnlyList<Fragment> html, IEnumerable<Fragment> trials) = computed.Fragments!.Value;
        return new Verification(
            evidence.Records,
            FiguresCheck.Count(computed.Figures),
            [
                .. FiguresCheck.Differences(computed.Figures, () => ForeignText.Open(open("figures.csv"))),
                .. TextCheck.Difference(markdown, open("table.md"), "table.md"),
                .. TextCheck.Difference(html, open("table.html"), "table.html"),
                .. TextCheck.Difference(trials, open("trials.csv"), "trials.csv"),
                .. TextCheck.Difference([new Fragment(EvidenceZip.Script, "what it does")], open("recompute.py"), "recompute.py"),
                .. TextCheck.Difference(
                    [new Fragment(EvidenceReadme.Of(computed), "what it says of itself")], open("README.txt"), "README.txt"),
                .. copied is { } table ? Difference(markdown, html, table.Text, table.Name) : [],
            ]);
    }

    /// <summary>
    /// Compares with both forms at once: which one it is shows only when a table was met, and what is copied may be a pipe that is read
    /// once.
    /// </summary>
    private static IEnumerable<string> Difference(
        IReadOnlyList<Fragment> markdown, IReadOnlyList<Fragment> html, Stream copied, string name)
    {
        const string mark = "<table";
        using TextCheck asMarkdown = new(markdown, name), asHtml = new(html, name);
        int met = 0;
        foreach (ReadOnlyMemory<char> piece in ForeignText.Pieces(copied, name))
        {
            asMarkdown.Add(piece.Span);
            asHtml.Add(piece.Span);
            ReadOnlySpan<char> left = met > 0 ? piece.Span : From(piece.Span, mark[0]);
            while (left.Length > 0 && met < mark.Length)
            {
                char c = char.ToLowerInvariant(left[0]);
                met = c == mark[met] ? met + 1 : c == mark[0] ? 1 : 0;
                left = met > 0 ? left[1..] : From(left[1..], mark[0]);
            }
        }

        return (met == mark.Length ? asHtml : asMarkdown).End() is { } difference ? [difference] : [];
    }

    private static ReadOnlySpan<char> From(ReadOnlySpan<char> text, char first) => text.IndexOf(first) is >= 0 and int at ? text[at..] : [];

    private Evidence Computed(Evidence evidence, MasterData data)
    {
        ReportModel model = report(data, evidence.Profile());
        Publication publication = Publication.Of(model, evidence.Options, evidence.Records);
        IReadOnlyList<Fragment> markdown = PublishedText.Markdown(publication);
        IReadOnlyList<Fragment> html = PublishedText.Html(publication);
        return evidence with
        {
            Markdown = PublishedText.Join(markdown),
            Html = PublishedText.Join(html),
            Figures = CsvReport.Render(model),
            Report = model,
            Fragments = (markdown, html, TrialMarks.Of(model)),
        };
    }
}
