using Cardassay.Collector.Commands;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Tests.Commands;

/// <summary>Cards taken in over a running collector, with the answers of a person and boards that say what is in their slots.</summary>
public sealed class CardReceptionTests : IAsyncLifetime
{
    // V5 and V7 of the register vectors: public read-outs, SDHC of 15.9 GB with C10 U1 A1 and SDXC of 62.3 GB with C10 U3 V30 A2.
    private static readonly Dictionary<string, string> s_small = new()
    {
        ["type"] = "SD", ["cid"] = "035344534331364780ecf4c851011b85", ["csd"] = "400e00325b59000076b27f800a404013", ["scr"] = "0235804300000000",
        ["ssr"] = "0000000004000000040090000f051a000000000000010000".PadRight(128, '0'),
    };

    private static readonly Dictionary<string, string> s_large = new()
    {
        ["type"] = "SD", ["cid"] = "9f544953443634476136980065013b7e", ["csd"] = "400e00325b590001cfff7f800a4000fa", ["scr"] = "0205848701006432",
        ["ssr"] = "000000000800000004009000011b391e000800000002ff0003".PadRight(128, '0'),
    };

    /// <summary>Every answer, pulled and swapped, on kernels that count media and on those that do not.</summary>
    public static IEnumerable<object[]> Points =>
        from answer in Enumerable.Range(0, 4)
        from pulled in new[] { true, false }
        from hasSequence in new[] { true, false }
        select new object[] { answer, pulled, hasSequence };

    private readonly V1.Presence _bench = new() { Board = "bench-1", AgentVersion = "1.0", BootId = ByteString.CopyFrom(new byte[16]) };
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync()
    {
        _collector = await CollectorFixture.StartAsync();
        await ClaimAsync(new Claim { Tag = "T-01", Maker = "Halvorn", Product = "Harbour 64", LabelGigabytes = 64, Marks = ["C10", "U3", "V30", "A2"], Price = 12.90m, Currency = "EUR", Condition = CardCondition.New });
        await ClaimAsync(new Claim { Tag = "T-02", Maker = "Merrow", Product = "Skerry 16", LabelGigabytes = 16, Marks = ["C10", "U1", "A1"], Price = 6m, Currency = "EUR", Condition = CardCondition.New });
    }

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Fact]
    public async Task Receive_TwoCards_RecordsStickersClaimsAndConsentOfEach()
    {
        await InAsync(Slot("mmcblk0", s_large, 1), Slot("mmcblk1", s_small, 2));
        (int code, string said) = await TalkAsync("T-03", "", "", "y", "", "", "5.50", "");
        Assert.Equal(0, code);
        Assert.Contains("Capacity, GB: 62.28", said, StringComparison.Ordinal);
        Assert.Contains("T-03 is claimed to be: Halvorn, Harbour 64, 64 GB, C10 U3 V30 A2, 12.90 EUR, new.", said, StringComparison.Ordinal);
        Assert.Contains("Nothing the registers say speaks against that.", said, StringComparison.Ordinal);
        Assert.Contains("T-03 is taken in: 1 x system-disk on bench-1.", said, StringComparison.Ordinal);
        Assert.Contains("sticker [T-04]", said, StringComparison.Ordinal);
        Assert.Contains("T-04 is taken in; nothing is scheduled.", said, StringComparison.Ordinal);
        Assert.Contains("2 cards taken in.", said, StringComparison.Ordinal);

        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Equal(["T-03", "T-04"], status.Boards.Single().Cards.Select(c => c.Tag));
        V1.ScheduleEntry entry = Assert.Single(status.Schedule.Entries).Entry;
        Assert.Equal(("T-03", "/dev/mmcblk0", IdentityOf(s_large), 1u), (entry.Tag, entry.Target, entry.EraseIdentity, entry.Repeat));
        V1.CardList cards = await _collector.AskAsync(async o => await o.ListCardsAsync(new V1.ListCardsRequest()));
        Assert.Equal("Merrow Skerry 16 16 GB", cards.Cards.Single(c => c.Tag == "T-04").Claim);
    }

    /// <summary>Beyond its sticker, a card of a known product takes a number, the price as it was, and consent: five keys.</summary>
    [Fact]
    public async Task Receive_CardOfAKnownProduct_TakesFiveKeys()
    {
        await InAsync(Slot("mmcblk0", s_large, 1));
        string[] answers = ["T-03", "1", "", "y"];
        (int code, _) = await TalkAsync(answers);
        Assert.Equal(0, code);
        Assert.Equal(5, answers.Skip(1).Sum(a => a.Length + 1));
    }

    [Fact]
    public async Task Receive_UnderAStandingOrder_ConsentsToItsPlanForThisVeryMedium()
    {
        await InAsync();
        await OrderAsync();
        await InAsync(Slot("mmcblk0", s_large, 1));
        (_, string said) = await PlanlessTalkAsync("T-03", "1", "", "y");
        Assert.Contains("y DESTROYS everything on this card by system-disk once a night until its rank is settled", said, StringComparison.Ordinal);
        Assert.Contains("T-03 is taken in: system-disk once a night until its rank is settled on bench-1.", said, StringComparison.Ordinal);
        V1.ScheduleEntry entry = (await _collector.StatusAsync()).Schedule.Entries.Single(e => e.Entry.HasEraseIdentity).Entry;
        Assert.Equal(("T-03", true, 1), (entry.Tag, entry.UntilSettled, entry.Medium.DiskSequence));

        // Another card in the slot, and the first again: the consent is over, the sticker is known, and one key consents anew.
        await InAsync(Slot("mmcblk0", s_small, 2));
        await InAsync(Slot("mmcblk0", s_large, 3));
        V1.ScheduleList now = (await _collector.StatusAsync()).Schedule;
        Assert.DoesNotContain(now.Entries, e => e.Entry.HasEraseIdentity);
        Assert.Equal(("T-03", V1.CardStep.Types.State.Looking), (now.Steps.Single().Card, now.Steps.Single().State));
        (_, said) = await PlanlessTalkAsync("y");
        Assert.DoesNotContain("sticker [", said, StringComparison.Ordinal);
        Assert.Equal(3, (await _collector.StatusAsync()).Schedule.Entries.Single(e => e.Entry.HasEraseIdentity).Entry.Medium.DiskSequence);
    }

    [Fact]
    public async Task Receive_ConsentWithheldUnderAStandingOrder_IsAskedForInTheNextTalk()
    {
        await InAsync();
        await OrderAsync();
        await InAsync(Slot("mmcblk0", s_large, 1));
        await PlanlessTalkAsync("T-03", "1", "", "");

        // Looked at, it waits for nobody but a person, and `status` does not say that nobody is needed.
        V1.ScheduleEntry look = (await _collector.StatusAsync()).Schedule.Entries.Single(e => e.Entry.StandingId.Length > 0).Entry;
        _bench.Finished.Add(new V1.FinishedDuty { ScheduleId = look.ScheduleId, RunNumber = 1, Ok = true, Outcome = (uint)RunOutcome.Completed });
        await InAsync(Slot("mmcblk0", s_large, 1));
        Assert.Contains("bench-1/mmcblk0, T-03: looked at; say whether it may be overwritten by `cards receive`.", (await _collector.StatusAsync()).NeedsPerson);
        (int code, string said) = await PlanlessTalkAsync("");
        Assert.Equal(1, code); // one card is left
        Assert.Contains("0 cards taken in, 1 left.", said, StringComparison.Ordinal);
        Assert.DoesNotContain((await _collector.StatusAsync()).Schedule.Entries, e => e.Entry.HasEraseIdentity);
    }

    /// <summary>The runs that are said are those that are set, also where no plan is named: a second one that its budget refuses is refused.</summary>
    [Fact]
    public async Task Receive_RunsWithoutAPlan_AreThoseThatWereSaid()
    {
        await InAsync(Slot("mmcblk0", s_large, 1));
        using var output = new StringWriter();
        await _collector.AskAsync(async o => await new CardTalk(o, new Answers(["T-03", "1", "", "y"], () => { }), output, "", 2, []).RunAsync(once: true, CancellationToken.None));
        Assert.Contains("by 2 x system-disk;", Unwrapped(output), StringComparison.Ordinal);
        Assert.Contains("T-03 is taken in and NOT scheduled: The plan system-disk writes up to", Unwrapped(output), StringComparison.Ordinal);
        Assert.All(output.ToString().Split('\n'), line => Assert.InRange(line.Length, 0, 160)); // an answer's line goes on after its question
    }

    /// <summary>A reader that hides registers, on a kernel that does not count media: the next card would be taken for this one.</summary>
    [Fact]
    public async Task Receive_ReaderThatCannotTellCardsApart_TakesNoConsent()
    {
        V1.Slot reader = Slot("sda", s_large, null);
        (reader.IdentityFromRegisters, reader.Attachment, reader.Identity) = (false, (uint)Attachment.Reader, "sda-62277025792-none");
        reader.Files.Clear();
        await InAsync(reader);
        (_, string said) = await PlanlessTalkAsync("T-03", "1", "", "y");
        Assert.Contains("T-03 is taken in and NOT scheduled: The reader hides the registers and the board's kernel does not count media", said, StringComparison.Ordinal);
        Assert.Empty((await _collector.StatusAsync()).Schedule.Entries);
    }

    [Theory]
    [InlineData("T-05", "", "names no card")]
    [InlineData("", "overnight", "this plan writes, and nobody has consented")]
    public async Task StandingOrder_ThatCannotBe_IsRefused(string tag, string look, string expected)
    {
        await InAsync();
        Grpc.Core.RpcException refused = await Assert.ThrowsAsync<Grpc.Core.RpcException>(() => OrderAsync(tag, look));
        Assert.Contains(expected, refused.Status.Detail, StringComparison.Ordinal);
        Assert.Empty((await _collector.StatusAsync()).Schedule.Entries);
    }

    [Fact]
    public async Task Receive_LabelThatTheRegistersContradict_SaysSoBeforeConsentIsAsked()
    {
        await InAsync(Slot("mmcblk0", s_small, 1));
        (_, string said) = await TalkAsync("T-03", "2", "", "-"); // the other product than the size speaks for
        int against = said.IndexOf("contradiction:", StringComparison.Ordinal);
        Assert.InRange(against, 0, said.IndexOf("DESTROYS", StringComparison.Ordinal));
        Assert.Contains("What settles it", said, StringComparison.Ordinal);
        Assert.DoesNotContain("Nothing the registers say speaks against", said, StringComparison.Ordinal);
    }

    /// <summary>Nobody has to sit at `cards receive` to learn what is known of a card that was put in.</summary>
    [Fact]
    public async Task StandingOrder_CardPutIn_IsShownWithWhatIsKnownOfItAlready()
    {
        await InAsync();
        await OrderAsync();
        await InAsync(Slot("mmcblk0", s_large, 1));
        Assert.Equal(["No card with these registers was seen before."], await PreviewAsync()); // no sticker, no claim, and nothing against it
        await PlanlessTalkAsync("T-01", "");
        Assert.Equal(
            ["Claimed to be: Halvorn, Harbour 64, 64 GB, C10 U3 V30 A2, 12.90 EUR, new. Verdict so far: not proven.", SlotPreviews.NothingAgainst], await PreviewAsync());

        // Another claim is heard of at once, and another card is not told what was found of this one.
        await ClaimAsync(new Claim { Tag = "T-01", LabelGigabytes = 128 });
        string[] contradicted = await PreviewAsync();
        Assert.StartsWith("Claimed to be: Halvorn, Harbour 64, 128 GB", contradicted[0], StringComparison.Ordinal);
        Assert.Contains(contradicted, line => line.StartsWith("contradiction: ", StringComparison.Ordinal) && line.Contains("128", StringComparison.Ordinal));
        Assert.DoesNotContain(SlotPreviews.NothingAgainst, contradicted);
        await InAsync(Slot("mmcblk0", s_small, 2));
        Assert.Equal(["No card with these registers was seen before."], await PreviewAsync());
    }

    [Fact]
    public async Task StandingOrder_SameRegistersTwiceAtOnce_IsShownOfBoth()
    {
        await InAsync();
        await OrderAsync();
        await InAsync(Slot("mmcblk0", s_large, 1), Slot("mmcblk1", s_large, 2));
        V1.ScheduleList now = await _collector.AskAsync(async o => await o.GetScheduleAsync(new V1.GetScheduleRequest()));
        Assert.Equal(2, now.Steps.Count);
        Assert.Equal(
            ["mmcblk1", "mmcblk0"],
            now.Steps.Select(s => Assert.Single(s.Preview).Split("and another one is in bench-1/")[1].Split(' ')[0]));
        (_, string said) = await PlanlessTalkAsync("-", "-");
        Assert.Contains("another one is in bench-1/mmcblk1 now", said, StringComparison.Ordinal);
    }

    /// <summary>An evening of a shop: one slot, two hundred cards of one product, every tenth swapped for the next while it is asked about.</summary>
    [Fact]
    public async Task Receive_TwoHundredCardsInAnEvening_EachHasItsOwnStickerAndConsent()
    {
        const int Cards = 200;
        await InAsync();
        await OrderAsync();
        var expected = new Dictionary<string, string>(StringComparer.Ordinal);
        long sequence = 0;
        for (int i = 0; i < Cards; i++)
        {
            Dictionary<string, string> card = Serial(i), other = Serial(Cards + i);
            await InAsync(Slot("mmcblk0", card, ++sequence));
            string sticker = $"S-{i:000}";
            bool isSwapped = i % 10 == 3;
            int asked = 0;
            string said = await TalkAsync(new Answers([sticker, "1", "", "y"], () =>
            {
                if (isSwapped && asked++ == 3)
                {
                    InAsync(Slot("mmcblk0", other, ++sequence)).GetAwaiter().GetResult();
                }
            }));
            Assert.Contains(isSwapped ? "Another card is in mmcblk0" : $"{sticker} is taken in: ", said, StringComparison.Ordinal);
            if (!isSwapped)
            {
                expected.Add(sticker, IdentityOf(card));
                await InAsync(Slot("mmcblk0", card, sequence)); // the board hears of its consent while the card is in
            }
        }

        V1.CardList cards = await _collector.AskAsync(async o => await o.ListCardsAsync(new V1.ListCardsRequest()));
        Assert.Equal(expected.OrderBy(e => e.Key, StringComparer.Ordinal), cards.Cards.Where(c => c.Tag.StartsWith("S-", StringComparison.Ordinal)).Select(c => KeyValuePair.Create(c.Tag, c.Identity)).OrderBy(c => c.Key, StringComparer.Ordinal));

        // Every consent was for its own card, and none outlived the card's stay in the slot.
        Assert.DoesNotContain((await _collector.StatusAsync()).Schedule.Entries, e => e.Entry.HasEraseIdentity && e.Entry.EraseIdentity != IdentityOf(Serial(Cards - 1)));
    }

    /// <summary>Another card of the same product: its serial number, with the check sum that belongs to it, left out here since the kernel does not show it either.</summary>
    private static Dictionary<string, string> Serial(int number) => new(s_large) { ["cid"] = string.Create(System.Globalization.CultureInfo.InvariantCulture, $"9f5449534436344761{0x36000000 + number:x8}013b01") };

    /// <summary>Of the one card under a standing order, in `schedule`, in `status` and on the page, which say the same.</summary>
    private async Task<string[]> PreviewAsync()
    {
        V1.ScheduleList now = await _collector.AskAsync(async o => await o.GetScheduleAsync(new V1.GetScheduleRequest()));
        V1.CardStep step = Assert.Single(now.Steps);
        Assert.Equal(step.Preview, Assert.Single((await _collector.StatusAsync()).Schedule.Steps).Preview);
        return [.. step.Preview];
    }

    [Theory]
    [InlineData("T-01", "T-01 is on another card")] // after T-01 was found on the large card
    [InlineData("T-00000000000000000000000000000000000000001", "1 to 40 printable characters")]
    [InlineData("T-", "may be cut off")]
    public async Task Receive_StickerThatCannotBe_IsAskedAgain(string sticker, string expected)
    {
        await InAsync(Slot("mmcblk0", s_large, 1));
        await TalkAsync("T-01", "");
        await InAsync(Slot("mmcblk1", s_small, 2));
        (int code, string said) = await TalkAsync(sticker, "T-03", "1", "", "");
        Assert.Contains(expected, said, StringComparison.Ordinal);
        Assert.Contains("T-03 is taken in", said, StringComparison.Ordinal);
        Assert.Equal(0, code);
    }

    [Fact]
    public async Task Receive_CardOfWhichNothingIsClaimed_BearsItsStickerAndNoClaim()
    {
        await InAsync(Slot("mmcblk0", s_large, 1));
        (_, string said) = await TalkAsync("T-03", "-", "");
        Assert.Contains("Nothing is claimed of T-03, so that there is no label to judge", said, StringComparison.Ordinal);
        Assert.Equal("T-03", Assert.Single((await _collector.StatusAsync()).Boards.Single().Cards).Tag);
        V1.CardList cards = await _collector.AskAsync(async o => await o.ListCardsAsync(new V1.ListCardsRequest()));
        Assert.Equal(["T-01", "T-02", "T-03"], cards.Cards.Select(c => c.Tag));
        Assert.Equal((IdentityOf(s_large), "not proven", 0u, ""), (cards.Cards[^1].Identity, cards.Cards[^1].Verdict, cards.Cards[^1].Runs, cards.Cards[^1].Claim));
    }

    [Fact]
    public async Task Receive_CardLeft_IsNotAskedAgainAndSaid()
    {
        await InAsync(Slot("mmcblk0", s_large, 1));
        (int code, string said) = await TalkAsync("-");
        Assert.Equal(1, code);
        Assert.Contains("0 cards taken in, 1 left.", said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Receive_CardTheBoardRunsFromAndSolderedMemory_AreNotAskedOf()
    {
        V1.Slot system = Slot("mmcblk0", s_large, 1), soldered = Slot("mmcblk2", s_small, 2);
        system.HoldsSystem = true;
        soldered.Attachment = (uint)Attachment.Fixed;
        await InAsync(system, soldered);
        (int code, string said) = await TalkAsync("T-03", "2", "", "y");
        Assert.Equal(0, code);
        Assert.Equal("0 cards taken in.", said);
        var forced = new V1.ReceiveCardRequest
        {
            Medium = new V1.Medium { Board = "bench-1", DiskName = "mmcblk0", Identity = system.Identity, BootId = _bench.BootId, DiskSequence = 1 }, Claim = new V1.Claim { Tag = "T-03" },
        };
        RpcException refused = await Assert.ThrowsAsync<RpcException>(() => _collector.AskAsync(async o => await o.ReceiveCardAsync(forced)));
        Assert.Contains("what the board runs from", refused.Status.Detail, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Receive_ReaderThatHidesRegisters_SaysWhatIsNotKnown()
    {
        await InAsync(new V1.Slot { DiskName = "sda", Identity = "device-sda-64000000000", DiskBytes = 64_000_000_000, Attachment = (uint)Attachment.Reader, DiskSequence = 7 });
        (_, string said) = await TalkAsync("T-01", "");
        Assert.Contains("Its registers are hidden, so it can only be recognised while it stays in", said, StringComparison.Ordinal);
        Assert.DoesNotContain("Maker:", said, StringComparison.Ordinal);
    }

    /// <summary>Whenever the card is pulled or another one put in its place, nothing that was said of it is recorded of the other.</summary>
    [Theory]
    [MemberData(nameof(Points))]
    public async Task Receive_CardSwappedBetweenAnyTwoAnswers_NeverConsentsToTheOther(int answer, bool pulled, bool hasSequence)
    {
        await InAsync(Slot("mmcblk0", s_large, hasSequence ? 1 : null), Slot("mmcblk1", s_small, hasSequence ? 2 : null));
        int asked = 0;
        var input = new Answers(["T-03", "2", "", "y"], () =>
        {
            if (asked++ == answer)
            {
                InAsync(pulled ? [] : [Slot("mmcblk0", s_small, hasSequence ? 3 : null), Slot("mmcblk1", s_large, hasSequence ? 4 : null)]).GetAwaiter().GetResult();
            }
        });
        string said = await TalkAsync(input);
        Assert.Contains(pulled ? "The card was taken out" : "Another card is in mmcblk0", said, StringComparison.Ordinal);
        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Empty(status.Schedule.Entries);
        Assert.All(status.Boards.SelectMany(b => b.Cards), c => Assert.Equal("", c.Tag));
        V1.CardList cards = await _collector.AskAsync(async o => await o.ListCardsAsync(new V1.ListCardsRequest()));
        Assert.DoesNotContain(cards.Cards, c => c.Tag == "T-03");
    }

    private async Task ClaimAsync(Claim claim) =>
        await _collector.AskAsync(async o => await o.RecordClaimsAsync(new V1.ClaimBatch { Claims = { ClaimCodec.ToMessage(claim) } }));

    private async Task OrderAsync(string tag = "", string look = "")
    {
        var entry = new V1.ScheduleEntry { Board = "bench-1", AnyCard = true, PlanName = "system-disk", LookPlanName = look.Length > 0 ? look : "read-only", UntilSettled = true, Repeat = 30 };
        if (tag.Length > 0)
        {
            entry.Tag = tag;
        }

        await _collector.AskAsync(async o => await o.PlanRunAsync(new V1.PlanRunRequest { Entry = entry }));
    }

    private async Task InAsync(params V1.Slot[] slots)
    {
        _bench.Slots.Clear();
        _bench.Slots.AddRange(slots);
        await new V1.BoardDesk.BoardDeskClient(_collector.Channel).CheckAsync(_bench);
    }

    private Task<(int Code, string Said)> TalkAsync(params string[] answers) => TalkAsync("system-disk", answers);

    private Task<(int Code, string Said)> PlanlessTalkAsync(params string[] answers) => TalkAsync(plan: "", answers);

    private async Task<(int Code, string Said)> TalkAsync(string plan, string[] answers)
    {
        int code = 0;
        using var output = new StringWriter();
        await _collector.AskAsync(async o => code = await new CardTalk(o, new Answers(answers, () => { }), output, plan, 1, []).RunAsync(once: true, CancellationToken.None));
        return (code, Unwrapped(output));
    }

    private async Task<string> TalkAsync(Answers input)
    {
        using var output = new StringWriter();
        await _collector.AskAsync(async o => await new CardTalk(o, input, output, "system-disk", 1, []).RunAsync(once: true, CancellationToken.None));
        return Unwrapped(output);
    }

    /// <summary>Sentences as they are, however they were broken into lines.</summary>
    private static string Unwrapped(StringWriter output) => string.Join(' ', output.ToString().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    private static V1.Slot Slot(string disk, Dictionary<string, string> registers, long? sequence)
    {
        CardRegisters read = Read(registers);
        var slot = new V1.Slot
        {
            DiskName = disk, Identity = read.Identity!.Text, IdentityFromRegisters = true, DiskBytes = read.UserAreaBytes ?? 0, Attachment = (uint)Attachment.Slot,
            Files = { RegisterFiles.ToMessages(registers.ToDictionary(f => f.Key, f => Reading<string>.Known(f.Value))) },
        };
        if (sequence is { } counted)
        {
            slot.DiskSequence = counted;
        }

        return slot;
    }

    private static string IdentityOf(Dictionary<string, string> registers) => Read(registers).Identity!.Text;

    private static CardRegisters Read(Dictionary<string, string> registers) =>
        CardRegisters.From(registers.ToDictionary(f => f.Key, f => Reading<string>.Known(f.Value)), 0, Attachment.Slot);

    /// <summary>Answers in order; something may happen before each is given.</summary>
    private sealed class Answers(string[] answers, Action before) : TextReader
    {
        private int _next;

        public override string? ReadLine()
        {
            if (_next >= answers.Length)
            {
                return null;
            }

            before();
            return answers[_next++];
        }
    }
}
