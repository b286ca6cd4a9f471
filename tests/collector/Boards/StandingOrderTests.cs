using Cardassay.Trials;
using State = Cardassay.V1.CardStep.Types.State;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>Cards put into slots with a standing order, one after the other, and every way to put in another one than was spoken of.</summary>
public sealed class StandingOrderTests
{
    private static readonly TimeSpan s_look = TimeSpan.FromMinutes(2);

    private readonly SimulatedNight _night = new();
    private readonly SimulatedBoard _bench;

    public StandingOrderTests()
    {
        _bench = _night.Board("bench-1");
        _bench.Runs = (entry, _) => (entry.PlanName == "read-only" ? s_look : TimeSpan.FromHours(1), null);
    }

    [Fact]
    public async Task CardPutIn_IsReadOnceAndThenWaitsForItsSticker()
    {
        _night.Order("bench-1");
        await _night.RunForAsync(0.1);
        Assert.Empty(_night.Shown.Steps);
        _bench.Insert("mmcblk0", "sd-a", 1);
        await _night.RunForAsync(0.02);
        Assert.Equal((State.Looking, true), (_night.Step("mmcblk0").State, _night.Step("mmcblk0").Running));
        await _night.RunForAsync(2);
        (V1.ScheduleEntry entry, _) = Assert.Single(_bench.Given);
        Assert.Equal(("read-only", "/dev/mmcblk0", false), (entry.PlanName, entry.Target, entry.HasEraseIdentity));
        Assert.Equal(State.NoSticker, _night.Step("mmcblk0").State);

        // Taken out and put in again, the collector and the board started anew: it was read, and is known by its registers.
        _bench.Slots.Clear();
        await _night.RunForAsync(1);
        _bench.CutPower();
        _night.RestartCollector();
        _bench.Insert("mmcblk0", "sd-a", 7);
        await _night.RunForAsync(2);
        Assert.Single(_bench.Given);
        Assert.Equal(State.NoSticker, _night.Step("mmcblk0").State);
        Assert.DoesNotContain(_night.Planned(), p => p.Run.Plan == "read-only"); // no night was planned for it, so none misses it
    }

    [Fact]
    public async Task Consent_IsMeasuredUntilSettledAndThenToBeTakenOut()
    {
        _night.Order("bench-1");
        _bench.Insert("mmcblk0", "sd-a", 1);
        await _night.RunForAsync(0.1);
        _night.Consent(_bench, "mmcblk0", "T-01");
        _night.IsSettled = _ => _bench.Given.Count == 4;
        await _night.RunForAsync(0.2);
        Assert.Equal((State.Measuring, true, "T-01"), (_night.Step("mmcblk0").State, _night.Step("mmcblk0").Running, _night.Step("mmcblk0").Card));
        await _night.RunForAsync(2);
        Assert.Equal(State.Resting, _night.Step("mmcblk0").State); // this night's run is made
        await _night.RunForAsync(72); // one run a night
        Assert.Equal(["read-only", "system-disk", "system-disk", "system-disk"], _bench.Given.Select(g => g.Entry.PlanName));
        Assert.Equal((State.Done, "settled after 3 runs of system-disk; take it out."), (_night.Step("mmcblk0").State, _night.Step("mmcblk0").Text));

        // Done is done, also for a card that is put back.
        _bench.Slots.Clear();
        await _night.RunForAsync(30);
        _bench.Insert("mmcblk0", "sd-a", 4);
        await _night.RunForAsync(30);
        Assert.Equal(4, _bench.Given.Count);
        Assert.Equal(State.Done, _night.Step("mmcblk0").State);
    }

    [Fact]
    public async Task SameCardPutBack_GoesOnWhereItWas()
    {
        _night.Order("bench-1");
        _bench.Insert("mmcblk0", "sd-a", 1);
        await _night.RunForAsync(0.1);
        _night.Consent(_bench, "mmcblk0", "T-01");
        _bench.Slots.Clear();
        await _night.RunForAsync(1);
        _bench.CutPower();
        _bench.Insert("mmcblk0", "sd-a", 2);
        await _night.RunForAsync(0.1);
        (V1.ScheduleEntry entry, V1.Slot? slot) = _bench.Given[^1];
        Assert.Equal(("T-01", "sd-a", 2), (entry.Tag, slot!.Identity, entry.Medium.DiskSequence)); // bound to the medium as it is in now
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task AnotherCardInTheSlot_EndsTheConsentOfTheFirst(bool isHidden)
    {
        _night.Order("bench-1");
        _bench.Insert("mmcblk0", "card-a", 1, isHidden);
        await _night.RunForAsync(0.1);
        V1.ScheduleEntry consented = _night.Consent(_bench, "mmcblk0", "T-01");
        _bench.Insert("mmcblk0", isHidden ? "card-a" : "card-b", 2, isHidden); // a reader shows the same of both
        await _night.RunForAsync(3);
        Assert.DoesNotContain(_bench.Given, g => g.Entry.HasEraseIdentity);
        Assert.Contains("consent to overwrite it is over", _night.Entry(consented).Closed!.Value.Event.Text, StringComparison.Ordinal);
        Assert.Equal(State.NoSticker, _night.Step("mmcblk0").State);

        // Nor does it come back with the first card: what happened to that meanwhile nobody knows.
        _bench.Insert("mmcblk0", "card-a", 3, isHidden);
        await _night.RunForAsync(3);
        Assert.DoesNotContain(_bench.Given, g => g.Entry.HasEraseIdentity);
    }

    [Fact]
    public async Task ClonesSwappedBetweenSlots_EndBothConsents()
    {
        _night.Order("bench-1");
        _bench.Runs = (_, _) => (TimeSpan.FromHours(8), null); // a long run of another card keeps the board busy
        _bench.Insert("mmcblk9", "sd-long", 9);
        await _night.RunForAsync(0.1);
        _bench.Insert("mmcblk0", "sd-clone", 1);
        _bench.Insert("mmcblk1", "sd-clone", 2);
        await _night.RunForAsync(0.1);
        V1.ScheduleEntry[] consents = [_night.Consent(_bench, "mmcblk0", "T-01"), _night.Consent(_bench, "mmcblk1", "T-02")];
        await _night.RunForAsync(0.1);
        Assert.All(consents, c => Assert.Null(_night.Entry(c).Closed));
        _bench.Insert("mmcblk0", "sd-clone", 3);
        _bench.Insert("mmcblk1", "sd-clone", 4);
        await _night.RunForAsync(30);
        Assert.All(consents, c => Assert.True(_night.Entry(c).IsVoid));
        Assert.DoesNotContain(_bench.Given, g => g.Entry.HasEraseIdentity);
    }

    [Fact]
    public async Task OrderWithdrawn_ReadsNoMoreCardsAndKeepsTheConsentsGiven()
    {
        V1.ScheduleEntry order = _night.Order("bench-1");
        _bench.Insert("mmcblk0", "sd-a", 1);
        await _night.RunForAsync(0.1);
        _night.Consent(_bench, "mmcblk0", "T-01");
        _night.Schedule("bench-1", "", null, 0, e => e.AnyCard = true);
        Assert.True(_night.Entry(order).Withdrawn);
        _bench.Insert("mmcblk1", "sd-b", 2);
        await _night.RunForAsync(3);
        Assert.Equal(["mmcblk0", "mmcblk0"], _bench.Given.Select(g => g.Slot!.DiskName));
        Assert.Empty(_night.Shown.Steps);
    }

    [Fact]
    public async Task Order_LeavesTheCardTheBoardRunsFromAlone()
    {
        _night.Order("bench-1");
        _bench.Insert("mmcblk0", "sd-system", 1);
        _bench.Slots["mmcblk0"].HoldsSystem = true;
        await _night.RunForAsync(3);
        Assert.Empty(_bench.Given);
    }

    /// <summary>Cards that cannot be read are not tried for ever, and say why they wait.</summary>
    [Fact]
    public async Task CardThatCannotBeRead_IsGivenUpAndSaysSo()
    {
        _night.Order("bench-1");
        _bench.Runs = (_, _) => (s_look, "randomRead");
        _bench.Insert("mmcblk0", "sd-a", 1);
        await _night.RunForAsync(5);
        Assert.Equal(3, _bench.Given.Count);
        Assert.Contains("could not be looked at (Skipped after 3 runs", _night.Step("mmcblk0").Text, StringComparison.Ordinal);
        Assert.DoesNotContain(".;", _night.Step("mmcblk0").Text, StringComparison.Ordinal);
    }

    /// <summary>
    /// Hands that put cards in, pull them, swap them, and consent, at random: no byte goes to a card that nobody consented to overwrite, and no run is made
    /// under another card's sticker. Some cards are clones, some sit in readers, boards lose power, the collector is started anew.
    /// </summary>
    [Fact]
    public async Task RandomHands_NeverOverwriteACardNobodyConsentedTo()
    {
        for (int seed = 0; seed < 12; seed++)
        {
            await new Hands(seed).RunAsync();
        }
    }

    private sealed class Hands(int seed)
    {
        private const int Cards = 12;
        private static readonly string[] s_disks = ["mmcblk0", "mmcblk1", "sda"];

        private readonly Random _random = new(seed);
        private readonly SimulatedNight _night = new();
        private readonly Dictionary<long, int> _cardOf = []; // by what the kernel counted when it was put in
        private readonly HashSet<int> _consented = [];
        private readonly HashSet<int> _named = []; // where its registers were seen
        private int _seen;
        private long _sequence;

        internal async Task RunAsync()
        {
            SimulatedBoard bench = _night.Board("bench-1");
            bench.Runs = (entry, _) => (TimeSpan.FromMinutes(entry.PlanName == "read-only" ? 2 : 5), _random.Next(10) == 0 ? "randomRead" : null);
            _night.Order("bench-1");
            _night.IsSettled = _ => _random.Next(3) == 0;
            for (int step = 0; step < 300; step++)
            {
                string disk = s_disks[_random.Next(s_disks.Length)];
                switch (_random.Next(12))
                {
                    case < 4:
                        PutIn(bench, disk);
                        break;
                    case < 6:
                        bench.Slots.Remove(disk);
                        break;
                    case < 9 when bench.Slots.TryGetValue(disk, out V1.Slot? slot) && CanBeNamed(bench, slot):
                        _consented.Add(_cardOf[slot.DiskSequence]);
                        if (slot.IdentityFromRegisters)
                        {
                            _named.Add(_cardOf[slot.DiskSequence]);
                        }

                        _night.Consent(bench, disk, Tag(_cardOf[slot.DiskSequence]));
                        break;
                    case 9 when _random.Next(4) == 0:
                        bench.CutPower();
                        bench.Slots.Clear();
                        break;
                    case 10 when _random.Next(4) == 0:
                        _night.RestartCollector();
                        break;
                    default:
                        break;
                }

                await _night.RunForAsync(_random.Next(1, 60) / 360.0);
                Look(bench);
            }

            Assert.NotEmpty(bench.Given);
        }

        /// <summary>
        /// Of two cards with one identity of which only one was ever named the other is taken for that one: nothing a kernel shows tells them apart. From the moment
        /// both have a sticker, or are in at once, they are told apart or left alone.
        /// </summary>
        private void Look(SimulatedBoard bench)
        {
            for (; _seen < bench.Given.Count; _seen++)
            {
                (V1.ScheduleEntry entry, V1.Slot? slot) = bench.Given[_seen];
                if (slot is null)
                {
                    continue;
                }

                int card = _cardOf[slot.DiskSequence], twin = card < 4 ? card ^ 1 : card;
                int taken = _named.Contains(card) || !slot.IdentityFromRegisters ? card : twin;
                Assert.True(!entry.HasTag || entry.Tag.Length == 0 || entry.Tag == Tag(card) || entry.Tag == Tag(taken), $"seed {seed}: {entry.Tag} measured on {Tag(card)}");
                Assert.True(!entry.HasEraseIdentity || _consented.Contains(card) || _consented.Contains(taken), $"seed {seed}: {Tag(card)} overwritten without consent");
                Assert.True(entry.HasEraseIdentity || entry.PlanName == "read-only", $"seed {seed}: {entry.PlanName} without consent");
            }
        }

        private static string Tag(int card) => $"T-{card:00}";

        /// <summary>Cards 0 to 3 are two pairs of clones, 8 and above are measured in readers where that happens to be free.</summary>
        private static string Identity(int card) => card < 4 ? $"sd-clone-{card / 2}" : $"sd-{card}";

        /// <summary>A card that is recognised as another one is that one, or the person is told; nobody names it twice.</summary>
        private bool CanBeNamed(SimulatedBoard bench, V1.Slot slot) =>
            _night.Cards.Recognise(bench.Name, new V1.Presence { BootId = bench.BootId }, slot) is var known
            && (known.Tag is null || known.Tag == Tag(_cardOf[slot.DiskSequence]));

        private void PutIn(SimulatedBoard bench, string disk)
        {
            HashSet<int> isIn = [.. bench.Slots.Where(s => s.Key != disk).Select(s => _cardOf[s.Value.DiskSequence])];
            int card;
            do
            {
                card = _random.Next(Cards);
            }
            while (isIn.Contains(card));

            _cardOf[++_sequence] = card;
            bool isReader = disk == "sda";
            bench.Insert(disk, isReader ? "reader-64" : Identity(card), _sequence, isReader);
        }
    }
}
