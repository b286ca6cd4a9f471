using Cardassay.Collector.Commands;

namespace Cardassay.Collector.Tests.Commands;

/// <summary>`cards` and `boards` on a terminal of 80 columns: no line is longer, and no word is broken.</summary>
public sealed class ListsFitTests
{
    [Fact]
    public void Cards_LongProductAndVerdict_FitEightyColumns()
    {
        var list = new V1.CardList();
        list.Cards.Add(new V1.Card
        {
            Tag = "T-13", Claim = "Ostervane Bulwark Max 256 GB", Verdict = "as claimed, sparsely probed", Identity = "sd-f3-4f56-BW128-1.2-0b9a0001-2024-06", IdentityFromRegisters = true,
            Runs = 107, Reference = true,
        });
        list.Cards.Add(new V1.Card { Verdict = "not proven", Identity = "noregisters-vda-274877906944-2016633626477119-and-a-very-long-serial-number", Runs = 1 });

        Fits(
            Show.OfLines(80, "2 cards", CardsCommand.Headings, CardsCommand.Rows(list), CardsCommand.Headings[..2]),
            "T-13", "reference", "Ostervane Bulwark Max 256 GB", "sd-f3-4f56-BW128-1.2-0b9a0001-2024-06", "sparsely", "107", "(no tag)", "nothing claimed", "very-long-serial-number", "(registers hidden)");
    }

    [Fact]
    public void Boards_LongModelAndStep_FitEightyColumns()
    {
        var list = new V1.BoardList();
        list.Boards.Add(new V1.Board
        {
            Name = "skerrin-point", Trust = "enrolled", Model = "Tarrow Station Carrier, six slots (invented)", Records = 1_234_567, BacklogRecords = 12_345, LastSeenUnixNs = 1_772_700_000_000_000_000,
            Progress = new V1.Board.Types.Progress_ { Step = "synchronous write", Fraction = 0.5, SecondsLeft = 7200 },
        });
        list.Boards.Add(new V1.Board { Name = "new-one", Trust = "invited" });

        Fits(
            Show.OfLines(80, "2 boards", BoardsCommand.Headings, BoardsCommand.Rows(list), BoardsCommand.Headings[0]),
            "skerrin-point", "enrolled", "Station", "(invented)", "1234567", "+12345", "synchronous", "2026-03-05", "never", "idle");
    }

    private static void Fits(string text, params string[] words)
    {
        Assert.All(text.Split('\n'), l => Assert.InRange(l.TrimEnd().Length, 0, 80));
        Assert.All(words, w => Assert.Contains(w, text, StringComparison.Ordinal));
    }
}
