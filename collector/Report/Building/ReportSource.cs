using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>The inputs of a report with the look-ups all its parts need.</summary>
internal sealed class ReportSource
{
    private readonly IReadOnlyDictionary<string, CardStanding> _standings;
    private readonly Dictionary<RecordKey, RunRecord> _runs = [];
    private readonly Dictionary<RunId, RunRecord> _runsById = [];
    private readonly Dictionary<string, RankedCard> _ranked = [];
    private readonly Dictionary<string, UnrankedCard> _unranked = [];
    private readonly HashSet<ComparabilityKey> _rankedKeys = [];

    public ReportSource(MasterData data, AnalysisResult analysis, IReadOnlyDictionary<string, CardStanding> standings)
    {
        Data = data;
        Analysis = analysis;
        _standings = standings;
        foreach (RunRecord run in data.Runs)
        {
            _runs[run.Key] = run;
            _runsById.TryAdd(run.Opened.RunId, run);
        }

        foreach (RankedCard card in Ranking?.Cards ?? [])
        {
            _ranked[card.Name] = card;
        }

        foreach (UnrankedCard card in Ranking?.Unranked ?? [])
        {
            _unranked.TryAdd(card.Name, card);
        }

        HashSet<(string, string)> ofIntake = [.. data.IntakeFindings.Select(f => (f.Id, f.Text))]; // there may be one for each of many thousand records
        LaboratoryFindings = [.. analysis.LaboratoryFindings.Where(f => !ofIntake.Contains((f.Id, f.Text)))];
        HandKept = data.HandKept.ToLookup(h => h.Tag, StringComparer.Ordinal);
        _rankedKeys.UnionWith(Ranking?.Keys ?? []);
        MetricRanks = new MetricRanks(
        analysis,
        [
            .. from card in analysis.Cards
               from series in MetricBuilder.Leading(MetricBuilder.InOrder(this, card))
               select (card, series),
        ]);
    }

    public MasterData Data { get; }

    public AnalysisResult Analysis { get; }

    /// <summary>Figures kept by hand, by tag.</summary>
    public ILookup<string, HandKeptResult> HandKept { get; }

    /// <summary>Ranks in single metrics.</summary>
    public MetricRanks MetricRanks { get; }

    /// <summary>The ranking the report leads with: the context with the most cards.</summary>
    public RankingTable? Ranking => Analysis.Rankings.Count > 0 ? Analysis.Rankings[0] : null;

    /// <summary>Ranked cards as the analysis orders them, then the unranked ones by name.</summary>
    public IEnumerable<CardResult> InOrder()
    {
        Dictionary<string, CardResult> byName = Analysis.Cards.ToDictionary(c => c.Name, StringComparer.Ordinal);
        IEnumerable<CardResult> ranked = (Ranking?.Cards ?? []).Where(c => byName.ContainsKey(c.Name)).Select(c => byName[c.Name]);
        return ranked.Concat(Analysis.Cards.Where(c => !_ranked.ContainsKey(c.Name)));
    }

    /// <summary>Findings about boards, clocks and deliveries, weightiest first, without those of the intake, which the analysis hands on.</summary>
    public IReadOnlyList<Finding> LaboratoryFindings { get; }

    public CardStanding? Standing(string name) => _standings.GetValueOrDefault(name);

    public RankedCard? Ranked(string name) => _ranked.GetValueOrDefault(name);

    public UnrankedCard? Unranked(string name) => _unranked.GetValueOrDefault(name);

    public bool IsRankedKey(ComparabilityKey key) => _rankedKeys.Contains(key);

    public RunRecord? Run(RecordKey key) => _runs.GetValueOrDefault(key);

    public RunRecord? Run(RunId id) => _runsById.GetValueOrDefault(id);

    /// <summary>What tables call the card: its tag, else the end of its identity, where serial numbers differ. The whole identity stands with the card.</summary>
    public static string Title(CardResult card) => card.Tag ?? (card.Name.Length > 24 ? "untagged …" + card.Name[^12..] : card.Name);

    /// <summary>"Halvorn Basalt 64 GB", or empty when nobody said.</summary>
    public static string Product(Claim? claim)
    {
        string size = claim?.LabelGigabytes is decimal gigabytes
            ? gigabytes.ToString("0.####", System.Globalization.CultureInfo.InvariantCulture) + " GB"
            : "";
        return string.Join(' ', new[] { claim?.Maker, claim?.Product, size }.Where(part => !string.IsNullOrEmpty(part)));
    }
}
