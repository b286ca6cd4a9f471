using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Boards;

public sealed class CardDirectoryTests
{
    private static readonly Guid Boot = Guid.Parse("5d1f7b3e-0000-4000-8000-000000000001");
    private readonly CardDirectory _cards = new(() => []);
    private long _sequence;

    [Fact]
    public void TwoClonesInTwoSlots_StayTwoCards()
    {
        Measured("T-01", "mole-1", "mmcblk0", 4, "cid-A");
        Measured("T-02", "mole-1", "mmcblk1", 5, "cid-A");
        Assert.Equal("T-01", Look("mole-1", Boot, "mmcblk0", 4, "cid-A").Tag);
        Assert.Equal("T-02", Look("mole-1", Boot, "mmcblk1", 5, "cid-A").Tag);

        // Taken out and put in again, or after a restart of the board, nobody can tell.
        foreach (RecognisedCard unknown in new[] { Look("mole-1", Boot, "mmcblk0", 6, "cid-A"), Look("mole-1", Guid.NewGuid(), "mmcblk0", 4, "cid-A") })
        {
            Assert.Null(unknown.Tag);
            Assert.Equal(["T-01", "T-02"], unknown.Candidates);
        }
    }

    [Fact]
    public void OneCard_IsRecognisedInAnyBoardByItsRegisters()
    {
        Measured("T-01", "mole-1", "mmcblk0", 4, "cid-A");
        RecognisedCard card = Look("mole-2", Guid.NewGuid(), "mmcblk3", 99, "cid-A");
        Assert.Equal(("T-01", false), (card.Tag, card.Certain));
        Assert.Null(Look("mole-2", Boot, "mmcblk3", 99, "cid-B").Tag);
    }

    [Fact]
    public void CardInAReader_IsRecognisedOnlyWhileItStaysIn()
    {
        Measured("T-01", "mole-1", "sda", 4, "sda 64 GB", fromRegisters: false);
        Assert.Equal("T-01", Look("mole-1", Boot, "sda", 4, "sda 64 GB", fromRegisters: false).Tag);
        Assert.Null(Look("mole-1", Boot, "sda", 5, "sda 64 GB", fromRegisters: false).Tag);
    }

    [Fact]
    public void PersonsWord_BindsTheMediumInTheSlot()
    {
        _cards.Learn(new V1.TagGiven
        {
            Tag = "T-07", Board = "mole-1", DiskName = "mmcblk0", Identity = "cid-A", IdentityFromRegisters = true, BootId = Bytes(Boot), DiskSequence = 8,
        });
        Assert.True(Look("mole-1", Boot, "mmcblk0", 8, "cid-A").Certain);
        Assert.Equal("cid-A", _cards.IdentityOf("T-07"));
    }

    private static ByteString Bytes(Guid boot) => ByteString.CopyFrom(boot.ToByteArray(bigEndian: true));

    private RecognisedCard Look(string board, Guid boot, string disk, long sequence, string identity, bool fromRegisters = true) => _cards.Recognise(
        board,
        new V1.Presence { BootId = Bytes(boot) },
        new V1.Slot { DiskName = disk, DiskSequence = sequence, Identity = identity, IdentityFromRegisters = fromRegisters });

    private void Measured(string tag, string board, string disk, long diskSequence, string identity, bool fromRegisters = true)
    {
        var run = new RunId(Guid.NewGuid());
        Observation[] observations =
        [
            new RunOpened
            {
                RunId = run, Tag = tag, DiskName = disk, DiskSequence = diskSequence, BootId = Boot.ToString(), TargetPath = "/dev/" + disk,
                PlanName = "p", PlanVersion = "1", PlanText = "{}", HostName = board, KernelRelease = "6", AgentVersion = "1",
            },
            new CardIdentified { RunId = run, Identity = identity, IdentityFromRegisters = fromRegisters, DiskName = disk },
        ];
        _cards.Learn(observations.Select(o => new StoredRecord
        {
            Key = new RecordKey("e", ++_sequence), Board = board, BootId = "", Payload = ObservationCodec.Encode(o), Hash = [],
        }));
    }
}
