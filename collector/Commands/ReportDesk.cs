using System.Globalization;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Commands;

/// <summary>Turns a snapshot of the master data into what the commands and the page show.</summary>
internal sealed class ReportDesk
{
    private readonly Lock _gate = new();

    /// <summary>The last analysis: what did not change since is taken over from it.</summary>
    private AnalysisResult? _previous;

    /// <exception cref="CommandException">No such format, profile or card.</exception>
    internal string Render(MasterData data, V1.ReportRequest request)
    {
        AnalysisResult analysis = Analyse(data, request.Profile, request.WithAll);
        if (request.ExplainTag.Length > 0)
        {
            return Explained(analysis, request.ExplainTag);
        }

        ReportModel model = Model(data, analysis);
        return request.Format switch
        {
            "terminal" => TerminalReport.Render(model),
            "html" => HtmlReport.Render(model),
            "markdown" => MarkdownReport.Render(model),
            "csv" => CsvReport.Render(model),
            "json" => JsonReport.Render(model),
            _ => throw new CommandException($"There is no rendering \"{request.Format}\"; use terminal, html, markdown, csv or json.", 2),
        };
    }

    internal V1.CardList Cards(MasterData data)
    {
        AnalysisResult analysis = Analyse(data, "", withAll: false);
        IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(data, analysis);
        var list = new V1.CardList();
        foreach (CardResult card in analysis.Cards)
        {
            SeenIdentity? identity = card.Identities.Count > 0 ? card.Identities[^1] : null;
            var row = new V1.Card
            {
                Tag = card.Tag ?? "",
                Identity = identity?.Text ?? "",
                IdentityFromRegisters = identity?.FromRegisters ?? false,
                Verdict = standings.GetValueOrDefault(card.Name)?.Verdict.Words ?? new Verdict(VerdictKind.NotProven, []).Words,
                Runs = (uint)card.Runs.Count,
                Trials = (uint)card.Metrics.Sum(m => m.N),
                Claim = ClaimLine(card.Claim),
                Reference = card.Claim?.IsReference == true,
            };
            row.Boards.AddRange(card.Runs.Select(r => r.Board).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal));
            list.Cards.Add(row);
        }

        return list;
    }

    internal IReadOnlyList<string> NeedsPerson(MasterData data) =>
        [.. Model(data, Analyse(data, "", withAll: false)).NeedsPerson.Select(n => $"{n.Subject}: {n.Text} {n.Do}".Trim())];

    private static ReportModel Model(MasterData data, AnalysisResult analysis) => ReportBuilder.Build(
        data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));

    private AnalysisResult Analyse(MasterData data, string profileName, bool withAll)
    {
        UseProfile profile = UseProfile.Named(profileName.Length == 0 ? UseProfile.SystemDisk.Name : profileName)
            ?? throw new CommandException(
                $"There is no profile \"{profileName}\"; use {string.Join(", ", UseProfile.BuiltIn.Select(p => p.Name))}.", 2);
        lock (_gate)
        {
            return _previous = Analyser.Run(data, profile, new AnalysisOptions { WithAll = withAll }, _previous);
        }
    }

    private static string Explained(AnalysisResult analysis, string nameOrTag)
    {
        Explanation explanation = Explain.For(analysis, nameOrTag)
            ?? throw new CommandException($"There is no card \"{nameOrTag}\"; see `cards`.", 2);
        var text = new StringBuilder();
        foreach (ExplanationLine line in explanation.Lines)
        {
            text.Append(' ', line.Depth * 2).AppendLine(Show.Clean(line.Text));
            foreach (RecordKey key in line.Records)
            {
                text.Append(' ', (line.Depth * 2) + 4).AppendLine(key.ToString());
            }
        }

        return text.ToString();
    }

    private static string ClaimLine(Claim? claim) => claim is null
        ? ""
        : string.Join(' ', new[]
        {
            claim.Maker,
            claim.Product,
            claim.LabelGigabytes is { } gigabytes ? string.Create(CultureInfo.InvariantCulture, $"{gigabytes:0.###} GB") : null,
        }.OfType<string>());
}
