using Cardassay.Journal;
using static Cardassay.SharedCore.Tests.Journal.LogFolder;

namespace Cardassay.SharedCore.Tests.Journal;

public sealed class RecordLogTests : IDisposable
{
    private readonly LogFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Read_AfterFlush_GivesBackEveryFieldAsAppended()
    {
        using RecordLog log = _folder.Open();
        byte[] payload = [0, 255, 1, 2, 3];

        Assert.Equal(1, log.Append(Stamp, payload));
        log.Flush();

        LogRecord record = Assert.Single(log.Read(log.Epoch, 1));
        Assert.Equal((log.Epoch, 1L, 3, Stamp), (record.Epoch, record.Sequence, record.SchemaVersion, record.Stamp));
        Assert.Equal(payload, record.Payload.ToArray());
    }

    [Fact]
    public void Read_BeforeFlush_GivesNothingOfIt()
    {
        using RecordLog log = _folder.Open();
        log.Append(Stamp, Payload(1));

        Assert.Empty(log.Read(log.Epoch, 1));
        Assert.Equal((1L, 0L), (log.LastSequence, log.DurableSequence));
        Assert.Equal([(log.Epoch, 1L, 0L)], log.Epochs());
        log.Flush();
        log.Append(Stamp, Payload(2));
        Assert.Equal([1L], Sequences(log, log.Epoch));
    }

    [Fact]
    public void Open_AfterCleanEnd_ContinuesEpochAndSequence()
    {
        LogEpoch epoch;
        using (RecordLog first = _folder.Open())
        {
            epoch = first.Epoch;
            Fill(first, 100);
        }

        using RecordLog log = _folder.Open();

        Assert.True(log.Recovery.IsClean);
        Assert.Null(log.Recovery.NewEpochReason);
        Assert.Equal((epoch, 100L, 100L), (log.Epoch, log.LastSequence, log.DurableSequence));
        Assert.Equal(101, log.Append(Stamp, Payload(101)));
        log.Flush();
        Assert.Equal(Enumerable.Range(1, 101).Select(i => (long)i), Sequences(log, epoch));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(37)]
    [InlineData(200)]
    public void Read_FromAnySequence_BeginsThere(long from)
    {
        using RecordLog log = _folder.Open();
        Fill(log, 200);

        LogRecord[] read = [.. log.Read(log.Epoch, from)];

        Assert.Equal(from, read[0].Sequence);
        Assert.Equal(201 - from, read.Length);
        Assert.All(read, record => Assert.Equal(Payload(record.Sequence), record.Payload.ToArray()));
    }

    [Fact]
    public void Read_InLargeSegment_FindsLateSequence()
    {
        using RecordLog log = _folder.Open(_folder.Options with { SegmentBytes = 4 << 20 });
        Fill(log, 10_000);

        Assert.Equal([9_999L, 10_000L], log.Read(log.Epoch, 9_999).Select(record => record.Sequence));
    }

    [Fact]
    public void Open_WhileOpen_ThrowsNamingTheFolder()
    {
        using RecordLog log = _folder.Open();

        var error = Assert.Throws<LogInUseException>(() => _folder.Open());

        Assert.Contains(_folder.Path, error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Append_LongestPayload_IsReadBack_AndOneByteMoreIsRefused()
    {
        using RecordLog log = _folder.Open();
        byte[] longest = new byte[_folder.Options.MaxPayloadBytes];
        longest[^1] = 7;

        log.Append(Stamp, longest);
        log.Append(Stamp, []);
        log.Flush();

        Assert.Throws<ArgumentException>(() => log.Append(Stamp, new byte[longest.Length + 1]));
        LogRecord[] read = [.. log.Read(log.Epoch, 1)];
        Assert.Equal(longest, read[0].Payload.ToArray());
        Assert.Equal(0, read[1].Payload.Length);
    }

    [Fact]
    public void Release_DeletesReceiptedSegmentsButNeverTheNewest()
    {
        using RecordLog log = _folder.Open();
        Fill(log, 100);
        int before = _folder.SegmentFiles.Length;

        log.Release(log.Epoch, 50);
        long firstKept = log.Epochs()[0].First;
        int half = _folder.SegmentFiles.Length;
        log.Release(log.Epoch, 100);

        Assert.InRange(firstKept, 2, 51);
        Assert.InRange(half, 2, before - 1);
        Assert.Single(_folder.SegmentFiles);
        Assert.Equal(_folder.SegmentFiles.Sum(file => new FileInfo(file).Length), log.UsedBytes);
    }

    [Fact]
    public void ReleasedThrough_AfterFlushAndReopen_IsRemembered()
    {
        LogEpoch epoch;
        using (RecordLog first = _folder.Open())
        {
            epoch = first.Epoch;
            Fill(first, 100);
            first.Release(epoch, 77);
            first.Flush();
        }

        using RecordLog log = _folder.Open();

        Assert.Equal(77, log.ReleasedThrough(epoch));
        Assert.True(log.Recovery.IsClean);
    }

    [Fact]
    public void Release_BeyondWhatIsDurable_CountsAsTheLastDurable()
    {
        using RecordLog log = _folder.Open();
        Fill(log, 3);
        log.Append(Stamp, Payload(4));

        log.Release(log.Epoch, long.MaxValue);
        log.Release(new LogEpoch(new Guid(1, 2, 3, new byte[8])), 5);

        Assert.Equal(3, log.ReleasedThrough(log.Epoch));
    }

    [Fact]
    public void Append_AtTheLimit_ThrowsAndGoesOnAfterRelease()
    {
        using RecordLog log = _folder.Open(_folder.Options with { MaxBytes = 20_000 });
        Assert.Throws<LogDiskFullException>(() => Fill(log, 1000));
        log.Flush();
        long last = log.LastSequence;
        Assert.InRange(log.Fullness, 0.95, 1);

        log.Release(log.Epoch, last);

        Assert.InRange(log.Fullness, 0, 0.5);
        Assert.Equal(last + 1, log.Append(Stamp, Payload(last + 1)));
    }

    [Fact]
    public void Open_LimitOfLessThanTwoSegments_IsRefusedByName()
    {
        var error = Assert.Throws<ArgumentOutOfRangeException>(() => _folder.Open(_folder.Options with { MaxBytes = 8000 }));

        Assert.Equal(nameof(LogOptions.MaxBytes), error.ParamName);
    }

    [Fact]
    public void Open_FormatOfANewerVersion_IsRefusedAndLeftAlone()
    {
        using (RecordLog first = _folder.Open())
        {
            Fill(first, 1);
        }

        string file = _folder.SegmentFiles[0];
        byte[] bytes = File.ReadAllBytes(file);
        bytes[8] = 2;
        System.Buffers.Binary.BinaryPrimitives.WriteUInt32LittleEndian(bytes.AsSpan(72), Crc32C.Of(bytes.AsSpan(0, 72)));
        File.WriteAllBytes(file, bytes);

        Assert.Throws<LogFormatException>(() => _folder.Open());
        Assert.Equal(bytes, File.ReadAllBytes(file));
    }

    [Fact]
    public void Members_AfterDispose_Throw()
    {
        RecordLog log = _folder.Open();
        log.Dispose();

        Assert.Throws<ObjectDisposedException>(() => log.Append(Stamp, Payload(1)));
        Assert.Throws<ObjectDisposedException>(() => log.Read(log.Epoch, 1).ToList());
    }

    [Fact]
    public async Task Read_WhileAnotherThreadAppends_SeesOnlyDurableRecordsInOrder()
    {
        using RecordLog log = _folder.Open(_folder.Options with { SegmentBytes = 16 << 10 });
        const int Count = 5_000;
        Task writer = Task.Run(() =>
        {
            for (int i = 1; i <= Count; i++)
            {
                log.Append(Stamp, Payload(i));
                if (i % 100 == 0)
                {
                    log.Flush();
                    log.Release(log.Epoch, i / 4);
                }
            }
        });
        List<long> seen = [];

        while (seen.Count == 0 || seen[^1] < Count)
        {
            long next = seen.Count == 0 ? 1 : seen[^1] + 1;
            foreach (LogRecord record in log.Read(log.Epoch, next))
            {
                Assert.True(record.Sequence <= log.DurableSequence);
                Assert.Equal(Payload(record.Sequence), record.Payload.ToArray());
                seen.Add(record.Sequence);
            }

            Assert.False(writer.IsFaulted, writer.Exception?.ToString());
        }

        await writer;
        // A reader that is slower than the receipts misses only what was released; it never sees a record twice or out of order.
        Assert.Equal(seen.Distinct().Order(), seen);
        Assert.Equal(Enumerable.Range(Count / 4 + 1, Count - Count / 4).Select(i => (long)i), seen.Where(sequence => sequence > Count / 4));
        Assert.Empty(log.LostRanges);
    }
}
