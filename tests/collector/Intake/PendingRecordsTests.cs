using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>Records between the intake log and the store are found by their place in the log; hashes are those of .NET's SHA-256.</summary>
public sealed class PendingRecordsTests : IDisposable
{
    private const string Epoch = "e";

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-pending-").FullName;
    private readonly RecordLog _log;
    private readonly PendingRecords _pending;

    public PendingRecordsTests()
    {
        _log = RecordLog.Open(new RealLogDisk(_folder), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) });
        _pending = new PendingRecords(_log, new IntakePosition("", 0));
    }

    public void Dispose()
    {
        _log.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public void HashOf_AnyOrderOfRuns_IsThatOfThePayload()
    {
        Append(Epoch, 1, 3);
        Append("other", 1, 2);
        Append(Epoch, 9, 2); // beyond a hole
        Append(Epoch, 4, 4);
        foreach (long sequence in (long[])[1, 2, 3, 4, 5, 6, 7, 9, 10, 7, 1])
        {
            Assert.Equal(Hash(Epoch, sequence), HashOf(new RecordKey(Epoch, sequence)));
        }

        Assert.Equal(Hash("other", 2), HashOf(new RecordKey("other", 2)));
        Assert.All((long[])[0, 8, 11], sequence => Assert.Null(HashOf(new RecordKey(Epoch, sequence))));
        Assert.Null(HashOf(new RecordKey("never seen", 1)));
    }

    [Fact]
    public void HashOf_NotOnTheDiskYet_IsPutThereFirst()
    {
        Append(Epoch, 1, 1);
        Assert.Equal(0, _log.DurableSequence);
        Assert.Equal(Hash(Epoch, 1), HashOf(new RecordKey(Epoch, 1)));
        Assert.Equal(1, _log.DurableSequence);
    }

    [Fact]
    public void HashOf_DamagedInTheLog_IsUnknown_AndTheOthersAreNot()
    {
        Append(Epoch, 1, 3);
        _log.Flush();
        string segment = Directory.GetFiles(_folder).Single(file => new FileInfo(file).Length > 0);
        byte[] bytes = File.ReadAllBytes(segment);
        bytes[bytes.AsSpan().IndexOf(Payload(Epoch, 2))] ^= 1;
        File.WriteAllBytes(segment, bytes);

        for (int i = 0; i < 2; i++)
        {
            Assert.Equal(i == 0 ? null : Hash(Epoch, 2), HashOf(new RecordKey(Epoch, 2)));
            Assert.Equal(Hash(Epoch, 1), HashOf(new RecordKey(Epoch, 1)));
            Assert.Equal(Hash(Epoch, 3), HashOf(new RecordKey(Epoch, 3)));
            if (i == 0)
            {
                Append(Epoch, 2, 1); // it comes again, and takes the place of the damaged one
            }
        }
    }

    [Fact]
    public void HashesOf_ManyInAnyOrder_AreThoseOfEach()
    {
        var random = new Random(61);
        for (int first = 1; first < 600; first += 100)
        {
            Append(Epoch, first, 100);
            Append("other", first, 3);
        }

        RecordKey[] keys = [.. Enumerable.Range(1, 590).Select(i => new RecordKey(Epoch, i)).Where(_ => random.Next(3) == 0), new RecordKey("other", 101)];
        random.Shuffle(keys);
        Dictionary<RecordKey, ContentHash> hashes = _pending.HashesOf([.. keys, .. keys]);
        Assert.Equal(keys.Length, hashes.Count);
        Assert.All(keys, key => Assert.Equal(SHA256.HashData(Payload(key.Epoch, key.Sequence)), hashes[key].ToBytes()));
    }

    [Fact]
    public void AreMissingFrom_StoreThatHoldsLessThanWasLetGo_IsTrue()
    {
        string log = _log.Epoch.ToString();
        long last = Append(Epoch, 1, 3);
        Assert.False(_pending.AreMissingFrom(new IntakePosition("", 0)));
        Applied(last);
        Assert.True(_pending.AreMissingFrom(new IntakePosition("", 0)));
        Assert.True(_pending.AreMissingFrom(new IntakePosition(log, last - 1)));
        Assert.False(_pending.AreMissingFrom(new IntakePosition(log, last)));
    }

    [Fact]
    public void Forget_LetsGoWhatIsInTheStoreWhole()
    {
        long last = Append(Epoch, 1, 3);
        Append(Epoch, 4, 2);
        Applied(last - 1);
        Assert.NotNull(HashOf(new RecordKey(Epoch, 1))); // of a run that is not all in the store, nothing is let go
        _pending.Forget(new StoreBatch { Through = new IntakePosition(Guid.NewGuid().ToString("N"), last + 2) });
        Assert.NotNull(HashOf(new RecordKey(Epoch, 1))); // another log
        Applied(last + 1);
        Assert.Null(HashOf(new RecordKey(Epoch, 1)));
        Assert.Equal(Hash(Epoch, 4), HashOf(new RecordKey(Epoch, 4)));
        Applied(last + 2);
        Assert.Null(HashOf(new RecordKey(Epoch, 4)));
    }

    [Fact]
    public void Forget_ManySmallRuns_LooksThroughThemOncePerAsManyRecords_AndAtTheEndOfTheLog()
    {
        for (int i = 1; i <= 100; i++)
        {
            Append(Epoch, i, 1);
        }

        Applied(40);
        Assert.NotNull(HashOf(new RecordKey(Epoch, 1))); // kept for longer than needed, which does no harm
        Applied(100);
        Assert.Null(HashOf(new RecordKey(Epoch, 1)));
        Assert.Null(HashOf(new RecordKey(Epoch, 100)));
    }

    private ContentHash? HashOf(RecordKey key) => _pending.HashesOf([key]).TryGetValue(key, out ContentHash hash) ? hash : null;

    private void Applied(long through) => _pending.Forget(new StoreBatch { Through = new IntakePosition(_log.Epoch.ToString(), through) });

    private static byte[] Payload(string epoch, long sequence) => System.Text.Encoding.UTF8.GetBytes($"observation {sequence} of {epoch}");

    private static ContentHash Hash(string epoch, long sequence) => ContentHash.FromBytes(SHA256.HashData(Payload(epoch, sequence)));

    private long Append(string epoch, long first, int count)
    {
        long last = 0;
        for (int i = 0; i < count; i++)
        {
            last = _log.Append(default, new V1.IntakeEntry
            {
                Delivered = new V1.Delivered { Record = new V1.Record { Payload = ByteString.CopyFrom(Payload(epoch, first + i)) } },
            }.ToByteArray());
        }

        _pending.Add(epoch, first, count, last - count + 1);
        return last;
    }
}
