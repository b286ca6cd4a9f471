namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>
/// Which cards to put into which slots for the night, where there are more cards than slots. What links boards goes first, for without it no order between
/// their cards is known; then what answers most questions an hour. A board measures one card at a time, so its slots share its hours. A card
/// stays where it is when that serves as well. Pure.
/// </summary>
internal static class EveningSlots
{
    /// <summary>Assigns cards to slots.</summary>
    /// <param name="tonight">The proposals of the analysis, best first.</param>
    /// <param name="slots">Slots of the boards there are.</param>
    /// <param name="hours">Length of the night, hours, above 0.</param>
    /// <returns>The slots that are to hold a card, the most telling first; a slot that is not named may stay as it is.</returns>
    internal static IReadOnlyList<EveningSlot> Of(IReadOnlyList<Suggestion> tonight, IReadOnlyList<BenchSlot> slots, double hours)
    {
        var free = slots.ToList();
        var used = new Dictionary<string, double>(StringComparer.Ordinal);
        var wanted = tonight.Select(s => s.Name).ToHashSet(StringComparer.Ordinal);
        List<EveningSlot> list = [];
        foreach (Suggestion suggestion in tonight.OrderBy(s => s.Kind is SuggestionKind.Link or SuggestionKind.OtherBoard ? 0 : 1))
        {
            if (list.Any(e => e.Card == suggestion.Name))
            {
                continue;
            }

            BenchSlot? slot = free.Where(s => (suggestion.Board is null || s.Board == suggestion.Board) && used.GetValueOrDefault(s.Board) + suggestion.Hours <= hours)
                .OrderBy(s => s.Card == suggestion.Name ? 0 : s.Card is null ? 1 : !wanted.Contains(s.Card) ? 2 : 3)
                .ThenBy(s => used.GetValueOrDefault(s.Board)).ThenBy(s => s.Board, StringComparer.Ordinal).ThenBy(s => s.Disk, StringComparer.Ordinal)
                .FirstOrDefault();
            if (slot is null)
            {
                continue;
            }

            free.Remove(slot);
            used[slot.Board] = used.GetValueOrDefault(slot.Board) + suggestion.Hours;
            list.Add(new EveningSlot(slot, suggestion.Name, suggestion.Reason, suggestion.Hours));
        }

        return list;
    }
}

/// <summary>A slot cards are put into.</summary>
/// <param name="Board">Its board.</param>
/// <param name="Disk">Kernel name of the disk a card in it becomes.</param>
/// <param name="Card">The card that is in it now; null for none that could be recognised.</param>
internal sealed record BenchSlot(string Board, string Disk, string? Card);

/// <summary>A card that is to be in a slot for the night.</summary>
/// <param name="Slot">The slot.</param>
/// <param name="Card">The card.</param>
/// <param name="Reason">What its run would tell, a sentence.</param>
/// <param name="Hours">How long that takes, hours.</param>
internal sealed record EveningSlot(BenchSlot Slot, string Card, string Reason, double Hours);
