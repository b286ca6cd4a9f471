using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>What waits between the intake log and the store is known by its content until the store has it.</summary>
public sealed class PendingRecordsTests : IDisposable
{
    private const string Epoch = "e";

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-pending-").FullName;
    private readonly RecordLog _log;
    private readonly PendingRecords _pending;

    public PendingRecordsTests()
    {
        _log = RecordLog.Open(new RealLogDisk(_folder), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) });
        _pending = new PendingRecords(_log, new IntakePosition("", 0), most: 4);
    }

    public void Dispose()
    {
        _log.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public void HashOf_IsThatOfTheContentThatWaitsUnderTheKey()
    {
        Append(Epoch, 1);
        Append("other", 1);
        Append(Epoch, 9); // beyond a hole
        Assert.Equal(Hash(Epoch, 1), _pending.HashOf(new RecordKey(Epoch, 1)));
        Assert.Equal(Hash(Epoch, 9), _pending.HashOf(new RecordKey(Epoch, 9)));
        Assert.Equal(Hash("other", 1), _pending.HashOf(new RecordKey("other", 1)));
        Assert.Null(_pending.HashOf(new RecordKey(Epoch, 8)));
        Assert.Null(_pending.HashOf(new RecordKey("never seen", 1)));
    }

    [Fact]
    public void AreMissingFrom_StoreThatHoldsLessThanWasLetGo_IsTrue()
    {
        string log = _log.Epoch.ToString();
        Append(Epoch, 1);
        long last = Append(Epoch, 2);
        Assert.False(_pending.AreMissingFrom(new IntakePosition("", 0)));
        Applied(last, (1, false), (2, false));
        Assert.True(_pending.AreMissingFrom(new IntakePosition("", 0)));
        Assert.True(_pending.AreMissingFrom(new IntakePosition(log, last - 1)));
        Assert.False(_pending.AreMissingFrom(new IntakePosition(log, last)));
        Applied(last - 1, (1, false)); // it is made again
        Assert.True(_pending.AreMissingFrom(new IntakePosition(log, last - 1)));
    }

    [Fact]
    public void Forget_LetsGoWhatIsInTheStore_AndNothingElse()
    {
        Append(Epoch, 1);
        long last = Append(Epoch, 2);
        _pending.AddConflict(new RecordKey(Epoch, 2), Hash("another", 2));
        Applied(last, (1, false), (2, false));
        Assert.Null(_pending.HashOf(new RecordKey(Epoch, 1)));
        Assert.Null(_pending.HashOf(new RecordKey(Epoch, 2)));
        Assert.True(_pending.HasConflict(new RecordKey(Epoch, 2), Hash("another", 2)));
        Append(Epoch, 3);
        _pending.Forget(new StoreBatch
        {
            Through = new IntakePosition(_log.Epoch.ToString(), last + 1), Records = [Row("another", 2, conflicting: true)],
        });
        Assert.False(_pending.HasConflict(new RecordKey(Epoch, 2), Hash("another", 2)));
        Assert.NotNull(_pending.HashOf(new RecordKey(Epoch, 3)));
    }

    [Fact]
    public void LetGoWhenFull_AsManyAsAreKept_MakesTheStoreTheOneToAsk()
    {
        Append(Epoch, 1);
        Append(Epoch, 2);
        _pending.AddConflict(new RecordKey(Epoch, 2), Hash("another", 2));
        _pending.LetGoWhenFull();
        Assert.NotNull(_pending.HashOf(new RecordKey(Epoch, 1)));
        long last = Append(Epoch, 3);
        _pending.LetGoWhenFull();
        Assert.Null(_pending.HashOf(new RecordKey(Epoch, 1)));
        Assert.False(_pending.HasConflict(new RecordKey(Epoch, 2), Hash("another", 2)));
        _log.Flush();
        Assert.True(_pending.AreMissingFrom(new IntakePosition("", 0)));
        Assert.True(_pending.AreMissingFrom(new IntakePosition(_log.Epoch.ToString(), last - 1)));
        Assert.False(_pending.AreMissingFrom(new IntakePosition(_log.Epoch.ToString(), last)));
        Append(Epoch, 4);
        _pending.LetGoWhenFull();
        Assert.NotNull(_pending.HashOf(new RecordKey(Epoch, 4))); // it counts anew
    }

    private void Applied(long through, params (long Sequence, bool Conflicting)[] records) => _pending.Forget(new StoreBatch
    {
        Through = new IntakePosition(_log.Epoch.ToString(), through), Records = [.. records.Select(r => Row(Epoch, r.Sequence, r.Conflicting))],
    });

    private static StoredRecord Row(string content, long sequence, bool conflicting) => new()
    {
        Key = new RecordKey(Epoch, sequence), Board = "bench", BootId = "", Payload = Payload(content, sequence), Hash = Hash(content, sequence).ToBytes(), Conflicting = conflicting,
    };

    private static byte[] Payload(string content, long sequence) => System.Text.Encoding.UTF8.GetBytes($"observation {sequence} of {content}");

    private static ContentHash Hash(string content, long sequence) => ContentHash.Of(Payload(content, sequence));

    private long Append(string epoch, long sequence)
    {
        _pending.Add(new RecordKey(epoch, sequence), Hash(epoch, sequence));
        return _log.Append(default, Payload(epoch, sequence));
    }
}
