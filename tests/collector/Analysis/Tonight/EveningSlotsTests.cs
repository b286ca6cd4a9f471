using Cardassay.Collector.Analysis.Tonight;

namespace Cardassay.Collector.Tests.Analysis.Tonight;

/// <summary>More cards than slots: which go where, worked out by hand.</summary>
public sealed class EveningSlotsTests
{
    private static readonly BenchSlot[] s_two = [new("bench-1", "mmcblk0", null), new("bench-2", "mmcblk0", null)];

    [Fact]
    public void Of_LinkBetweenBoards_GoesBeforeWhatAnswersMoreAnHour()
    {
        IReadOnlyList<EveningSlot> evening = EveningSlots.Of(
            [Suggest("T-01", 10), Suggest("T-02", 5), Suggest("T-03", 1, SuggestionKind.Link, "bench-2")], s_two, 8);
        Assert.Equal([("bench-2", "T-03"), ("bench-1", "T-01")], Places(evening));
    }

    [Fact]
    public void Of_CardThatIsInAlready_StaysWhereItIs()
    {
        BenchSlot[] slots = [new("bench-1", "mmcblk0", "T-02"), new("bench-2", "mmcblk0", null)];
        Assert.Equal([("bench-2", "T-01"), ("bench-1", "T-02")], Places(EveningSlots.Of([Suggest("T-01", 10), Suggest("T-02", 5)], slots, 8)));
    }

    [Fact]
    public void Of_CardThatTeachesNothing_GivesItsSlotBeforeOneThatDoes()
    {
        BenchSlot[] slots = [new("bench-1", "mmcblk0", "T-02"), new("bench-2", "mmcblk0", "T-09")];
        Assert.Equal([("bench-2", "T-01"), ("bench-1", "T-02")], Places(EveningSlots.Of([Suggest("T-01", 10), Suggest("T-02", 5)], slots, 8)));
    }

    /// <summary>Two slots of one board share its night: a card whose run does not fit any more is left for another night.</summary>
    [Fact]
    public void Of_SlotsOfOneBoard_ShareItsHours()
    {
        BenchSlot[] slots = [new("bench-1", "mmcblk0", null), new("bench-1", "mmcblk1", null), new("bench-1", "sda", null)];
        IReadOnlyList<EveningSlot> evening = EveningSlots.Of(
            [Suggest("T-01", 10, hours: 5), Suggest("T-02", 9, hours: 4), Suggest("T-03", 8, hours: 3), Suggest("T-04", 1, hours: 0.5)], slots, 8);
        Assert.Equal(["T-01", "T-03"], evening.Select(e => e.Card));
        Assert.InRange(evening.Sum(e => e.Hours), 0, 8);
    }

    [Fact]
    public void Of_SeveralReasonsForOneCard_NeedOneSlot()
    {
        IReadOnlyList<EveningSlot> evening = EveningSlots.Of([Suggest("T-01", 10), Suggest("T-01", 5, SuggestionKind.ProveCapacity), Suggest("T-02", 1)], s_two, 8);
        Assert.Equal(["T-01", "T-02"], evening.Select(e => e.Card));
    }

    [Fact]
    public void Of_BoardThatHasNoSlot_IsLeftOut() =>
        Assert.Empty(EveningSlots.Of([Suggest("T-01", 10, SuggestionKind.Link, "attic")], s_two, 8));

    private static (string, string)[] Places(IReadOnlyList<EveningSlot> evening) => [.. evening.Select(e => (e.Slot.Board, e.Card))];

    private static Suggestion Suggest(string card, double closes, SuggestionKind kind = SuggestionKind.Settle, string? board = null, double hours = 1) =>
        new() { Name = card, Board = board, Kind = kind, Reason = "why", Hours = hours, Closes = closes * hours };
}
