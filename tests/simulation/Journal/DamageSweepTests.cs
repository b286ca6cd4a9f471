using Cardassay.Journal;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>Every truncation and every flipped bit, not a sample of them.</summary>
public sealed class DamageSweepTests(ITestOutputHelper output)
{
    private static readonly LogEpoch FirstEpoch = new(new Guid("a1a2a3a4-a5a6-a7a8-a9aa-abacadaeafb0"));
    private static readonly LogEpoch NextEpoch = new(new Guid("b1b2b3b4-b5b6-b7b8-b9ba-bbbcbdbebfc0"));

    [Theory]
    [InlineData(4 << 20)]
    [InlineData(16 << 10)]
    public void Truncation_AtEveryByteOfTheLast64KiB_RecoversTheExactPrefix(int segmentBytes)
    {
        (SimulatedDisk disk, List<(string File, long End)> ends) = Filled(segmentBytes, count: 95, longestPayload: 1400);
        List<(string Name, byte[] Bytes)> files =
            [.. disk.Files.OrderBy(file => file.Key, StringComparer.Ordinal).Select(file => (file.Key, file.Value.Cache.ToArray()))];
        long total = files.Sum(file => (long)file.Bytes.Length);
        Assert.True(total > 64 << 10);

        Parallel.For(total - (64 << 10), total + 1, new ParallelOptions { MaxDegreeOfParallelism = 2 }, length =>
        {
            var damaged = new SimulatedDisk();
            Dictionary<string, long> kept = [];
            long left = length;
            foreach ((string name, byte[] bytes) in files)
            {
                if (left > 0)
                {
                    kept[name] = Math.Min(left, bytes.Length);
                    damaged.Put(name, bytes.AsSpan(0, (int)kept[name]));
                    left -= kept[name];
                }
            }

            long expected = ends.TakeWhile(end => kept.TryGetValue(end.File, out long size) && end.End <= size).Count();
            using RecordLog log = RecordLog.Open(damaged, Options(segmentBytes, NextEpoch));
            Assert.Equal(Enumerable.Range(1, (int)expected).Select(i => (long)i), log.Read(FirstEpoch, 1).Select(record => record.Sequence));
            Assert.True(log.Recovery.IsClean ? log.LastSequence == expected || log.Epoch == NextEpoch : log.Epoch == NextEpoch,
                $"length {length}: damage was found, but the epoch went on");
            Assert.Empty(log.LostRanges);
            Assert.True(log.Append(Stamp(0), [1]) == (log.Epoch == FirstEpoch ? expected + 1 : 1));
        });
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void BitFlip_AnywhereInASegment_IsNoticedAndCostsNoMoreThanNamed(int segmentFromEnd)
    {
        (SimulatedDisk disk, _) = Filled(segmentBytes: 4096, count: 62);
        string target = disk.Files.Keys.Order(StringComparer.Ordinal).ToArray()[^segmentFromEnd];
        long[] all = Records(disk.Copy()).Sequences;
        Assert.Equal(62, all.Length);
        int bits = disk.Files[target].Length * 8;
        Assert.InRange(bits, 8 * 3000, 8 * 4200);
        int lostMost = 0;
        int unnoticed = 0;

        Parallel.For(0, bits, new ParallelOptions { MaxDegreeOfParallelism = 2 }, bit =>
        {
            SimulatedDisk damaged = disk.Copy();
            damaged.Files[target].FlipBit(bit);
            (long[] sequences, RecoveryReport report) = Records(damaged);
            if (report.IsClean)
            {
                Interlocked.Increment(ref unnoticed);
            }

            long[] missing = [.. all.Except(sequences)];
            IEnumerable<long> named = report.LostRanges.SelectMany(lost => Sequences(lost.First, lost.Last))
                .Concat(report.Cuts.Where(cut => cut.AfterSequence >= sequences[^1]).SelectMany(cut => all.Where(sequence => sequence > cut.AfterSequence)));
            Assert.Equal(missing, named.Distinct().Order());
            InterlockedMax(ref lostMost, missing.Length);
        });

        output.WriteLine($"{bits} bits of {target}: {unnoticed} unnoticed, at most {lostMost} records lost by one");
        Assert.Equal(0, unnoticed);
        Assert.InRange(lostMost, 1, 1);
    }

    [Fact]
    public void MissingSegment_InTheMiddle_IsNamedUntilAcknowledged()
    {
        (SimulatedDisk disk, _) = Filled(segmentBytes: 4096, count: 100);
        string[] files = [.. disk.Files.Keys.Order(StringComparer.Ordinal)];
        disk.Delete(files[1]);
        disk.SyncFolder();
        disk.RestartProcess();

        LostRange lost;
        using (RecordLog log = RecordLog.Open(disk, Options(4096, NextEpoch)))
        {
            lost = Assert.Single(log.Recovery.LostRanges);
            Assert.Equal(FirstEpoch, lost.Epoch);
            Assert.Equal(Sequences(1, 100).Except(Sequences(lost.First, lost.Last)), log.Read(FirstEpoch, 1).Select(record => record.Sequence));
        }

        using (RecordLog log = RecordLog.Open(disk, Options(4096, NextEpoch)))
        {
            Assert.Equal([lost], log.Recovery.LostRanges);
            log.AcknowledgeLost(lost);
            Assert.Empty(log.LostRanges);
            log.Flush();
        }

        using (RecordLog log = RecordLog.Open(disk, Options(4096, NextEpoch)))
        {
            Assert.Empty(log.Recovery.LostRanges);
            Assert.DoesNotContain(log.Read(FirstEpoch, 1), record => record.Sequence == lost.First);
            Assert.Empty(log.LostRanges);
        }
    }

    [Fact]
    public void DamageBelowTheVerifiedPart_IsFoundByReading()
    {
        (SimulatedDisk disk, List<(string File, long End)> ends) = Filled(segmentBytes: 4096, count: 100);
        disk.Files[ends[2].File].FlipBit((ends[2].End - 10) * 8);

        using RecordLog log = RecordLog.Open(disk, Options(4096, NextEpoch) with { VerifyAtOpenBytes = 0 });
        Assert.True(log.Recovery.IsClean);
        Assert.Equal(Sequences(1, 100).Where(sequence => sequence != 3), log.Read(FirstEpoch, 1).Select(record => record.Sequence));
        LostRange lost = Assert.Single(log.LostRanges);
        Assert.Equal((3L, 3L), (lost.First, lost.Last));
        Assert.Contains(ends[2].File, lost.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void NewestSegmentMissing_AfterItsPredecessorWasSealed_OpensANewEpoch()
    {
        (SimulatedDisk disk, _) = Filled(segmentBytes: 4096, count: 100);
        disk.Delete(disk.Files.Keys.Max(StringComparer.Ordinal)!);
        disk.SyncFolder();

        using RecordLog log = RecordLog.Open(disk, Options(4096, NextEpoch));

        Assert.Equal(NextEpoch, log.Epoch);
    }

    private static (SimulatedDisk Disk, List<(string File, long End)> Ends) Filled(int segmentBytes, int count, int longestPayload = 250)
    {
        var disk = new SimulatedDisk();
        List<(string File, long End)> ends = [];
        using RecordLog log = RecordLog.Open(disk, Options(segmentBytes, FirstEpoch));
        var random = new Random(11);
        for (int i = 0; i < count; i++)
        {
            byte[] payload = new byte[100 + random.Next(longestPayload - 100)];
            random.NextBytes(payload);
            log.Append(Stamp(i), payload);
            string newest = disk.Files.Keys.Max(StringComparer.Ordinal)!;
            ends.Add((newest, disk.Files[newest].Length));
        }

        log.Flush();
        return (disk, ends);
    }

    private static (long[] Sequences, RecoveryReport Report) Records(SimulatedDisk disk)
    {
        using RecordLog log = RecordLog.Open(disk, Options(4096, NextEpoch));
        return ([.. log.Read(FirstEpoch, 1).Select(record => record.Sequence)], log.Recovery);
    }

    private static LogOptions Options(long segmentBytes, LogEpoch epoch) =>
        new() { SchemaVersion = 1, NewEpoch = () => epoch, SegmentBytes = segmentBytes, MaxBytes = 0 };

    private static LogStamp Stamp(long ns) => new(ns, ns, Guid.Empty);

    private static IEnumerable<long> Sequences(long first, long last) => Enumerable.Range((int)first, (int)(last - first + 1)).Select(i => (long)i);

    private static void InterlockedMax(ref int target, int value)
    {
        int seen;
        while ((seen = Volatile.Read(ref target)) < value && Interlocked.CompareExchange(ref target, value, seen) != seen)
        {
        }
    }
}
