using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Live;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Commands;

/// <summary>Words boards and data for the live page.</summary>
internal static class LiveData
{
    private const int FindingsShown = 20;
    private const int ProofsShown = 10;

    /// <summary>The boards right now.</summary>
    internal static IReadOnlyList<LiveBoard> Boards(
        BoardRegistry boards, DeliverySessions sessions, CardDirectory cards, DutyDesk duties, SlotPreviews previews)
    {
        Func<string, bool> connected = sessions.Look().IsOpen;
        IReadOnlyList<V1.CardStep> all = duties.Steps();
        previews.AddTo(all);
        ILookup<string, V1.CardStep> steps = all.ToLookup(s => s.Board, StringComparer.Ordinal);
        return [.. boards.All().Select(b => Board(b, connected(b.Name), cards, [.. steps[b.Name]]))];
    }

    /// <summary>Findings and nights of the whole data set.</summary>
    internal static LiveState Read(MasterData data, ReportModel model)
    {
        LiveFinding[] findings =
        [
            .. from card in model.Cards
               let when = card.Runs.Count > 0 ? card.Runs[^1].When : ""
               orderby when descending
               from finding in card.Findings
               where finding.Severity != "note"
               select new LiveFinding(card.Title, finding.Severity, finding.Text, when),
        ];
        LiveProof[] proofs =
        [
            .. from card in model.Cards
               where card.Capacity is not null
               let when = card.Runs.Count > 0 ? card.Runs[^1].When : ""
               orderby when descending
               select new LiveProof(card.Title, card.Capacity!.Statement, when),
        ];
        return new LiveState
        {
            Integrity = Wording.IntegrityLine(model.Integrity),
            NeedsPerson = [.. model.NeedsPerson.Select(n => $"{n.Subject}: {n.Text} {n.Do}".Trim())],
            Findings = [.. findings.Take(FindingsShown)],
            AllFindings = findings.Length,
            Proofs = [.. proofs.Take(ProofsShown)],
            AllProofs = proofs.Length,
            Nights = [.. data.Runs.GroupBy(NightClock.NightOf).OrderByDescending(n => n.Key).Select(Night)],
            Invented = model.Invented,
        };
    }

    private static LiveNight Night(IGrouping<DateOnly, RunRecord> night) => new(
        night.Key.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        Sentences.Span(new ReportNight(night.Key, night.Key)),
        night.Count(),
        night.Select(r => r.Opened.Tag ?? r.Card?.Identity ?? r.Key.ToString()).Distinct(StringComparer.Ordinal).Count(),
        night.Select(r => r.Board).Distinct(StringComparer.Ordinal).Count());

    private static LiveBoard Board(BoardState board, bool connected, CardDirectory directory, IReadOnlyList<V1.CardStep> steps)
    {
        IReadOnlyList<V1.Progress> running = board.Presence.Running();
        string[] cards = [.. (board.Presence?.Slots ?? [])
            .Select(s => $"{CardLadder.CardWord(directory.Recognise(board.Name, board.Presence!, s).Tag)} in {s.DiskName}")];
        string agent = string.IsNullOrEmpty(board.AgentVersion) ? "" : "agent " + board.AgentVersion;
        return new LiveBoard(
            board.Name,
            string.Join(", ", new[] { board.Model, agent }.Where(t => !string.IsNullOrEmpty(t))),
            connected,
            board.LastSeen.UtcDateTime.ToString("yyyy-MM-dd HH:mm:ss", CultureInfo.InvariantCulture) + " UTC",
            running.Count == 0 ? "idle" : string.Join("; at once: ", running.Select(p => p.Step.Length > 0 ? p.Step : "measuring")),
            running.Count == 0 ? null : (int)Math.Clamp(running.Average(p => p.Fraction) * 100, 0, 100),
            running.Count == 0 ? "" : Left(running.Max(p => p.SecondsLeft)),
            string.Join(", ", cards),
            [.. steps.Select(NightTable.StepLine)],
            Wording.Number(board.RecordsSinceStart),
            board.Presence is { BacklogRecords: > 0 } presence ? Wording.Count((long)presence.BacklogRecords, "record", "records") : "")
            {
                Asks = [.. CardLadder.Asks(steps)],
            };
    }

    // Coarse, so that the page does not change every second.
    private static string Left(double seconds) => seconds switch
    {
        <= 0 or double.NaN => "",
        < 60 => "less than a minute left",
        < 5400 => $"about {Wording.Count((long)Math.Round(seconds / 60), "minute", "minutes")} left",
        _ => string.Create(CultureInfo.InvariantCulture, $"about {seconds / 3600:0.0} hours left"),
    };
}
