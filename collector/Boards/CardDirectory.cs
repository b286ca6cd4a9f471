using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Recognises cards. A medium that stayed in its slot since a run or a person named it is that card, whatever it says of itself: so two
/// clones in two slots stay two cards. Else the identity decides, if it comes from registers and only one sticker is known to bear it.
/// Learns from the records as they reach the store.
/// </summary>
/// <param name="present">The boards that are heard of now: two cards with the same registers may be in at once.</param>
internal sealed class CardDirectory(Func<IEnumerable<BoardState>> present)
{
    private readonly Lock _gate = new();
    private readonly Dictionary<(string Board, string Boot, string Disk, long? Sequence), string> _places = [];
    private readonly Dictionary<string, SortedSet<string>> _tagsOf = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _identityOf = new(StringComparer.Ordinal);
    private readonly Dictionary<RunId, string> _tagOfRun = [];

    /// <summary>Learns from records of boards, in any order of boards but each board's in its own.</summary>
    internal void Learn(IEnumerable<StoredRecord> records)
    {
        foreach (StoredRecord record in records)
        {
            if (record.Conflicting)
            {
                continue;
            }

            switch (ObservationCodec.KindOf(record.Payload))
            {
                case V1.Observation.KindOneofCase.RunOpened when record.Observed() is RunOpened { Tag: { } tag } opened:
                    tag = TagOrigin.Join(tag, BoardOrigin.Split(record.Board).Origin); // the T-10 of another laboratory is not ours
                    lock (_gate)
                    {
                        _tagOfRun[opened.RunId] = tag;
                        Place(record.Board, Boot(opened.BootId), opened.DiskName, opened.DiskSequence, tag);
                    }

                    break;
                case V1.Observation.KindOneofCase.CardIdentified
                    when record.Observed() is CardIdentified { IdentityFromRegisters: true } card:
                    lock (_gate)
                    {
                        if (_tagOfRun.TryGetValue(card.RunId, out string? of))
                        {
                            Name(card.Identity, of);
                        }
                    }

                    break;
                default:
                    break;
            }
        }
    }

    /// <summary>Learns what a person said.</summary>
    internal void Learn(V1.TagGiven given)
    {
        lock (_gate)
        {
            Place(given.Board, Convert.ToHexStringLower(given.BootId.Span), given.DiskName,
                given.HasDiskSequence ? given.DiskSequence : null, given.Tag);
            if (given.IdentityFromRegisters)
            {
                Name(given.Identity, given.Tag);
            }
        }
    }

    /// <summary>Learns what operators said.</summary>
    internal void Learn(IEnumerable<StoredEvent> events)
    {
        foreach (StoredEvent e in events.Where(e => e.FromOperator))
        {
            if (V1.OperatorEvent.Parser.ParseFrom(e.Payload) is { Origin: "", TagGiven: { } given })
            {
                Learn(given);
            }
        }
    }

    /// <summary>The identity last read of a card, from its registers; null when none was.</summary>
    internal string? IdentityOf(string tag)
    {
        lock (_gate)
        {
            return _identityOf.GetValueOrDefault(tag);
        }
    }

    /// <summary>
    /// The stickers that some medium bears as far as is known, and the identity last read of it; "" where
    /// its registers were never read.
    /// </summary>
    internal IReadOnlyList<(string Tag, string Identity)> OnMedia()
    {
        lock (_gate)
        {
            return [.. _places.Values.Distinct(StringComparer.Ordinal).Select(tag => (tag, _identityOf.GetValueOrDefault(tag, "")))];
        }
    }

    /// <summary>Which card is in a slot.</summary>
    internal RecognisedCard Recognise(string board, V1.Presence presence, V1.Slot slot)
    {
        string? twin = slot.IdentityFromRegisters ? Twin(board, slot) : null;
        lock (_gate)
        {
            long? sequence = slot.HasDiskSequence ? slot.DiskSequence : null;
            if (sequence is not null
                && _places.TryGetValue((board, Convert.ToHexStringLower(presence.BootId.Span), slot.DiskName, sequence), out string? tag))
            {
                return new RecognisedCard(tag, "It has not left the slot since it was named.", true, []);
            }

            if (!slot.IdentityFromRegisters)
            {
                return new RecognisedCard(null, "Its registers are hidden, so it can only be recognised while it stays in.", false, []);
            }

            string[] tags = _tagsOf.TryGetValue(slot.Identity, out SortedSet<string>? known) ? [.. known] : [];
            return tags switch
            {
                [] when twin is not null =>
                    new RecognisedCard(null, $"No card with these registers was seen before, and another one is in {twin} now; "
                        + "only a person can tell them apart.", false, []),
                [] => new RecognisedCard(null, "No card with these registers was seen before.", false, []),
                [_] when twin is not null => new RecognisedCard(null,
                    $"A card with the same registers is in {twin} as well; only a person can tell them apart.", false, tags),
                [var only] => new RecognisedCard(only, "Its registers are those of this card.", false, []),
                _ => new RecognisedCard(null,
                    $"{string.Join(" and ", tags)} have the same registers; only a person can tell them apart.", false, tags),
            };
        }
    }

    /// <summary>Another slot that shows the same registers now; null when none does.</summary>
    private string? Twin(string board, V1.Slot slot) => present()
        .SelectMany(
            b =>
                b.Presence?.Slots.Where(
                    s => s.IdentityFromRegisters && s.Identity == slot.Identity && (b.Name != board || s.DiskName != slot.DiskName))
                    .Select(s => $"{b.Name}/{s.DiskName}") ?? [])
        .FirstOrDefault();

    private static string Boot(string text) => Guid.TryParse(text, out Guid boot) ? boot.ToString("N") : text;

    private void Place(string board, string boot, string? disk, long? sequence, string tag)
    {
        if (disk is not null && sequence is not null)
        {
            _places[(board, boot, disk, sequence)] = tag;
        }
    }

    private void Name(string identity, string tag)
    {
        if (!_tagsOf.TryGetValue(identity, out SortedSet<string>? tags))
        {
            _tagsOf[identity] = tags = new SortedSet<string>(StringComparer.Ordinal);
        }

        tags.Add(tag);
        _identityOf[tag] = identity;
    }
}

/// <summary>Which card is in a slot, as far as the collector can tell.</summary>
/// <param name="Tag">Its sticker; null when it could not be recognised.</param>
/// <param name="How">How it was recognised, or why not: one sentence.</param>
/// <param name="Certain">True when it has not left the slot since it was named.</param>
/// <param name="Candidates">The stickers that share its identity when these are several, else empty.</param>
internal sealed record RecognisedCard(string? Tag, string How, bool Certain, IReadOnlyList<string> Candidates);
