using System.Security.Cryptography;
using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Demo.Tests;

public sealed class DemoDataTests
{
    [Fact]
    public void Boards_CalledTwice_GivesTheSameBytes()
    {
        byte[] first = Hash(Tarrow24.Boards);
        byte[] second = Hash(DemoData.Boards());

        Assert.Equal(first, second);
    }

    [Fact]
    public void Boards_OfThisVersion_HaveTheRecordedHash()
    {
        // Recorded when the data set was made; changes only with the story or the encoding, and then on purpose.
        string hash = Convert.ToHexStringLower(Hash(Tarrow24.Boards));
        Assert.True(hash == "80e22839f47cc251f117b3da98f30ecb8c5bf4b0ecf4c4919c50869cb26dee09", $"The data set now has the hash {hash}.");
    }

    [Fact]
    public void Boards_WholeSet_HasFourBoardsTwentyFourCardsThreeNights()
    {
        Assert.Equal(4, Tarrow24.Boards.Count);
        Assert.Equal(24, Tarrow24.RunsByTag.Count);
        // A night is named by the day it begins on; noon parts two of them.
        Assert.Equal(
            [new DateOnly(2026, 3, 2), new DateOnly(2026, 3, 3), new DateOnly(2026, 3, 4)],
            Tarrow24.Boards.SelectMany(b => b.Records).Select(r => NightOf(r.Stamp)).Distinct().Order());
    }

    [Fact]
    public void Boards_WholeSet_StaysSmall()
    {
        int trials = Tarrow24.All.OfType<TrialMeasured>().Count();
        long bytes = Tarrow24.All.Sum(o => (long)ObservationCodec.Encode(o).Length);

        Assert.InRange(trials, 2_000, 3_000);
        Assert.InRange(bytes, 1, 10_000_000);
    }

    [Fact]
    public void Boards_EveryRun_IsMarkedInventedAndClosed()
    {
        RunOpened[] opened = [.. Tarrow24.All.OfType<RunOpened>()];
        Dictionary<RunId, RunClosed> closed = Tarrow24.All.OfType<RunClosed>().ToDictionary(c => c.RunId);

        Assert.All(opened, run => Assert.True(run.Invented));
        Assert.Equal(opened.Length, closed.Count);
        Assert.All(opened, run => Assert.Equal(
            Tarrow24.TrialsByRun[run.RunId].Where(t => t.Kind is not (TrialKind.RandomRead or TrialKind.SequentialRead)).Sum(t => t.Bytes)
            + Tarrow24.ProofsByRun[run.RunId].Sum(p => (p.BlocksWritten + p.EvictionBlocks) * ProofMeasured.BlockBytes),
            closed[run.RunId].BytesWritten));
        Assert.All(opened, run => Assert.InRange(closed[run.RunId].BytesWritten, 1, run.PlannedWriteBytes));
        RunClosed interrupted = Assert.Single(closed.Values, c => c.Outcome != RunOutcome.Completed);
        Assert.Equal(RunOutcome.Interrupted, interrupted.Outcome);
    }

    [Fact]
    public void Boards_EveryBoard_KeepsTimeInOrder()
    {
        foreach (BoardRecords board in Tarrow24.Boards)
        {
            foreach ((Stamped earlier, Stamped later) in board.Records.Zip(board.Records.Skip(1)))
            {
                Assert.True(earlier.Stamp.WallUnixNs <= later.Stamp.WallUnixNs);
                Assert.True(earlier.Stamp.BootId != later.Stamp.BootId || earlier.Stamp.MonotonicNs <= later.Stamp.MonotonicNs);
            }
        }

        Assert.Equal(5, Tarrow24.Boards.SelectMany(b => b.Records).Select(r => r.Stamp.BootId).Distinct().Count());
    }

    [Fact]
    public void Boards_EveryNight_IsOverBeforeTheNextMorning()
    {
        Assert.All(Tarrow24.Boards.SelectMany(b => b.Records), r =>
        {
            int hour = WallOf(r.Stamp).Hour;
            Assert.True(hour is >= 21 or < 6, $"a record at {WallOf(r.Stamp):O}");
        });
    }

    [Fact]
    public void Boards_OneSlot_HoldsOneCardAtATime()
    {
        foreach (BoardRecords board in Tarrow24.Boards)
        {
            var tagOf = new Dictionary<(Guid Boot, long DiskSequence), string>();
            foreach (Stamped record in board.Records)
            {
                if (record.Observation is RunOpened run)
                {
                    // The kernel numbers every medium it meets; one number is one card as long as the board stays up.
                    (Guid, long) medium = (record.Stamp.BootId, run.DiskSequence!.Value);
                    Assert.True(tagOf.TryAdd(medium, run.Tag!) || tagOf[medium] == run.Tag, $"{board.Board.Name}: {run.Tag} took the place of {tagOf[medium]}");
                }
            }
        }
    }

    [Fact]
    public void Boards_SettledCards_HaveEnoughRepetitionsAndTheProvisionalOnesFew()
    {
        foreach (string tag in Tarrow24.RunsByTag.Select(g => g.Key))
        {
            foreach (TrialKind kind in Tarrow24.Kinds)
            {
                int count = Tarrow24.MeasuredOf(tag, kind).Count();
                if (tag is "T-12" or "T-24")
                {
                    Assert.Equal(5, count);
                }
                else
                {
                    Assert.InRange(count, 20, 30);
                }
            }
        }
    }

    [Fact]
    public void Open_NewFolderThenAgain_KeepsEveryRecordOnce()
    {
        string folder = Directory.CreateTempSubdirectory("tarrow").FullName;
        try
        {
            BoardRecords board = Tarrow24.Boards[2];
            using (BoardJournal.Open(folder, board))
            {
            }

            using RecordLog log = BoardJournal.Open(folder, board);
            Assert.Equal(board.Records.Count, log.LastSequence);
            LogRecord[] read = [.. log.Read(log.Epoch, 1)];
            Assert.Equal(board.Records.Select(r => r.Stamp), read.Select(r => r.Stamp));
            Assert.All(board.Records.Zip(read), pair => Assert.True(pair.Second.Payload.Span.SequenceEqual(ObservationCodec.Encode(pair.First.Observation))));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public void Open_FolderOfAnotherBoard_IsRefused()
    {
        string folder = Directory.CreateTempSubdirectory("tarrow").FullName;
        try
        {
            using (BoardJournal.Open(folder, Tarrow24.Boards[0]))
            {
            }

            Assert.Throws<InvalidDataException>(() => BoardJournal.Open(folder, Tarrow24.Boards[1]));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static byte[] Hash(IEnumerable<BoardRecords> boards)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        foreach (Stamped record in boards.SelectMany(b => b.Records))
        {
            hash.AppendData(BitConverter.GetBytes(record.Stamp.MonotonicNs));
            hash.AppendData(BitConverter.GetBytes(record.Stamp.WallUnixNs));
            hash.AppendData(record.Stamp.BootId.ToByteArray(bigEndian: true));
            hash.AppendData(ObservationCodec.Encode(record.Observation));
        }

        return hash.GetHashAndReset();
    }

    private static DateTimeOffset WallOf(LogStamp stamp) => DateTimeOffset.UnixEpoch.AddTicks(stamp.WallUnixNs / 100);

    private static DateOnly NightOf(LogStamp stamp) => DateOnly.FromDateTime(WallOf(stamp).AddHours(-12).UtcDateTime);
}
