using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>The whole invented data set.</summary>
internal static class DemoData
{
    private const long PauseNs = 60_000_000_000;

    /// <summary>The records of every board, in the order of <see cref="Tarrow.Boards"/>. The same on every call.</summary>
    public static IReadOnlyList<BoardRecords> Boards() => [.. Tarrow.Boards.Select((board, index) => RecordsOf(board, index))];

    private static BoardRecords RecordsOf(Board board, int boardIndex)
    {
        var journal = new List<Stamped>();
        var clock = new BoardClock(board, Tarrow.FirstEvening.AddMinutes(-30));
        var runs = new RunMaker(board, clock, journal);
        SlotState[] slots = [.. Enumerable.Range(0, Board.Slots).Select(s => new SlotState(s))];
        long diskSequence = 0;
        StartSlots();

        for (int night = 0; night < Tarrow.Nights; night++)
        {
            clock.AdvanceTo(Tarrow.FirstEvening.AddDays(night).AddMinutes(boardIndex));
            foreach (Card card in CardsIn(boardIndex, night))
            {
                SlotState slot = slots[card.Slot];
                if (slot.Tag != card.Tag)
                {
                    slot.Tag = card.Tag;
                    slot.DiskSequence = ++diskSequence;
                    slot.Restart();
                }
            }

            foreach (Card card in CardsIn(boardIndex, night))
            {
                SlotState slot = slots[card.Slot];
                runs.Complete(card, slot, NightPlan.Folder, night);
                clock.Advance(PauseNs);
                if (card.Tag == Story.PowerCutTag && night == Story.PowerCutNight)
                {
                    runs.CutOff(card, slot, NightPlan.Raw, night, Story.PowerCutAfterTrials, StartSlots);
                    clock.Advance(PauseNs);
                }

                runs.Complete(card, slot, NightPlan.Raw, night);
                clock.Advance(PauseNs);
            }
        }

        // Last of all, since a proof leaves nothing of what was on the card.
        foreach (Card card in CardsIn(boardIndex, Tarrow.Nights - 1).Where(c => c.Proof != ProofKind.Unknown))
        {
            runs.Prove(card, slots[card.Slot], card.Proof);
            clock.Advance(PauseNs);
        }

        return new BoardRecords(board, journal);

        void StartSlots()
        {
            diskSequence = 0;
            foreach (SlotState slot in slots)
            {
                slot.DiskSequence = ++diskSequence;
                slot.Restart();
            }
        }
    }

    private static IEnumerable<Card> CardsIn(int boardIndex, int night) =>
        Tarrow.Cards.Where(c => c.Boards[night] == boardIndex).OrderBy(c => c.Slot);
}
