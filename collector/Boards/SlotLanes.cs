using Cardassay.Judging;
using Cardassay.Wire;

namespace Cardassay.Collector.Boards;

/// <summary>What goes on at once on a board, and what may.</summary>
internal static class SlotLanes
{
    /// <summary>Runs of one board at once, at the most.</summary>
    internal const int Most = 2;

    /// <summary>The runs that go on, the first of them first.</summary>
    internal static IReadOnlyList<V1.Progress> Running(this V1.Presence? presence) =>
        presence?.Progress is { } first ? [first, .. presence.Beside] : [];

    /// <summary>The same of a board as an operator is told of it.</summary>
    internal static IEnumerable<V1.Board.Types.Progress_> Running(this V1.Board board) =>
        board.Progress is { } first ? board.Beside.Prepend(first) : [];

    /// <summary>Whether a board said that it runs an entry.</summary>
    internal static V1.Progress? ProgressOf(this V1.Presence? presence, string? scheduleId) =>
        scheduleId is null ? null : presence.Running().FirstOrDefault(p => p.ScheduleId == scheduleId);

    /// <summary>
    /// Whether two entries of a board may be measured at once: two devices, in slots that a test that still holds has shown not to disturb
    /// each other in what the two plans do. What is not known counts against it.
    /// </summary>
    internal static Func<NightEntry, NightEntry, bool> MayRunTogether(V1.Presence? presence)
    {
        var shown = new Dictionary<(string, string, bool), bool>();
        // the newest last, which counts
        foreach (V1.SlotPair pair in presence?.SlotPairs.Where(p => p.Outdated.Length == 0).Reverse() ?? [])
        {
            IReadOnlyList<SlotComparison> comparisons = SlotPairCodec.Comparisons(pair);
            foreach (bool writes in (bool[])[false, true])
            {
                bool isShown = SlotsTogether.Judge(comparisons, writes).Word == SlotsWord.DoNotDisturb;
                shown[(pair.DiskName, pair.OtherDiskName, writes)] = shown[(pair.OtherDiskName, pair.DiskName, writes)] = isShown;
            }
        }

        return (a, b) => a is { Disk: { } disk } && b is { Disk: { } other } && disk != other
            && shown.GetValueOrDefault((disk, other, a.Writes || b.Writes));
    }

    /// <summary>
    /// Why a board measures one card at a time or two, a sentence for each pair of slots; one for a board whose slots were not
    /// tested; none for a board with one slot.
    /// </summary>
    internal static IReadOnlyList<string> Sentences(V1.Presence? presence)
    {
        if (presence is null)
        {
            return [];
        }

        if (presence.SlotPairs.Count == 0)
        {
            return presence.Slots.Count < 2 ? [] :
                ["One card at a time: whether two slots disturb each other was not tested (`cardassay-agent "
                    + "slots-together` on the board)."];
        }

        return [.. presence.SlotPairs.Select(Sentence)];
    }

    /// <summary>Whether any pair of its slots may be measured at once.</summary>
    internal static bool HasPair(V1.Presence presence) =>
        presence.SlotPairs.Any(
            p => p.Outdated.Length == 0 && SlotsTogether.Judge(SlotPairCodec.Comparisons(p), writes: false).Word == SlotsWord.DoNotDisturb);

    private static string Sentence(V1.SlotPair pair)
    {
        string slots = $"{pair.DiskName} and {pair.OtherDiskName}";
        if (pair.Outdated.Length > 0)
        {
            return $"{slots} one at a time: the test of the slots holds no more. {pair.Outdated}";
        }

        IReadOnlyList<SlotComparison> comparisons = SlotPairCodec.Comparisons(pair);
        SlotsJudgement writing = SlotsTogether.Judge(comparisons, writes: true);
        SlotsJudgement reading = SlotsTogether.Judge(comparisons, writes: false);
        return (writing.Word, reading.Word) switch
        {
            (SlotsWord.DoNotDisturb, SlotsWord.DoNotDisturb) => $"{slots} at once: they do not disturb each other. {writing.Text}",
            (_, SlotsWord.DoNotDisturb) =>
                ($"{slots} at once with plans that only read: those do not disturb each other. "
                    + $"Plans that write, one at a time: {Word(writing)}. {writing.Text} {writing.Settles}").TrimEnd(),
            _ => $"{slots} one at a time: {Word(reading)}. {reading.Text} {reading.Settles}".TrimEnd(),
        };
    }

    private static string Word(SlotsJudgement judged) =>
        judged.Word == SlotsWord.Disturb ? "they disturb each other" : "it is not shown that they do not disturb each other";
}
