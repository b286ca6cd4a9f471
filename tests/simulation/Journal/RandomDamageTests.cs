using Cardassay.Journal;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>Folders in any state at all: overwritten, shuffled, duplicated, cut, renamed. Opening must neither fail nor make anything up.</summary>
public sealed class RandomDamageTests(ITestOutputHelper output)
{
    private const int Seeds = 3_000;
    private const int Records = 60;
    private static readonly LogEpoch FirstEpoch = new(new Guid("a1a2a3a4-a5a6-a7a8-a9aa-abacadaeafb0"));
    private static readonly LogEpoch NextEpoch = new(new Guid("b1b2b3b4-b5b6-b7b8-b9ba-bbbcbdbebfc0"));

    [Fact]
    public void Open_AfterArbitraryDamage_ReadsOnlyWhatWasWrittenAndGoesOn()
    {
        SimulatedDisk sound = Filled();
        long kept = 0;
        for (int seed = 1; seed <= Seeds; seed++)
        {
            try
            {
                kept += OpenDamaged(sound.Copy(), new Random(seed));
            }
            catch (Exception error)
            {
                throw new InvalidOperationException($"seed {seed}", error);
            }
        }

        output.WriteLine($"{Seeds} damaged folders, {kept} of {(long)Seeds * Records} records still read");
        Assert.InRange(kept, Seeds, (long)Seeds * Records - Seeds);
    }

    private static int OpenDamaged(SimulatedDisk disk, Random random)
    {
        for (int i = random.Next(1, 5); i > 0; i--)
        {
            Damage(disk, random);
        }

        int count;
        using (RecordLog log = RecordLog.Open(disk, Options(NextEpoch)))
        {
            long[] read = [.. log.Read(FirstEpoch, 1).Select(record =>
            {
                Assert.Equal(Payload(record.Sequence), record.Payload.ToArray());
                return record.Sequence;
            })];
            Assert.Equal(read.Distinct().Order(), read);
            Assert.DoesNotContain(log.LostRanges, lost => read.Any(sequence => sequence >= lost.First && sequence <= lost.Last));
            long appended = log.Append(default, [1]);
            log.Flush();
            Assert.Contains(log.Read(log.Epoch, appended), record => record.Sequence == appended);
            count = read.Length;
        }

        using RecordLog again = RecordLog.Open(disk, Options(new LogEpoch(new Guid(9, 9, 9, new byte[8]))));
        Assert.Empty(again.Recovery.SetAside); // one opening brings the folder into order
        Assert.Empty(again.Recovery.Cuts);
        return count;
    }

    private static void Damage(SimulatedDisk disk, Random random)
    {
        string[] names = [.. disk.Files.Keys.Order(StringComparer.Ordinal)];
        if (names.Length == 0)
        {
            return;
        }

        string name = names[random.Next(names.Length)];
        byte[] bytes = disk.Files[name].Cache.ToArray();
        int at = random.Next(bytes.Length + 1);
        int length = random.Next(1, 600);
        byte[] noise = new byte[length];
        random.NextBytes(noise);
        byte[] otherFile = disk.Files[names[random.Next(names.Length)]].Cache.ToArray();
        byte[] other = otherFile[Math.Min(at, otherFile.Length)..Math.Min(at + length, otherFile.Length)];
        switch (random.Next(8))
        {
            case 0: disk.Put(name, [.. bytes[..at], .. noise, .. bytes[Math.Min(bytes.Length, at + length)..]]); break; // overwritten
            case 1: disk.Put(name, [.. bytes[..at], .. noise, .. bytes[at..]]); break; // pushed in
            case 2: disk.Put(name, [.. bytes[..at], .. other, .. bytes[at..]]); break; // a piece of another file
            case 3: disk.Put(name, [.. bytes[..at], .. bytes[Math.Min(bytes.Length, at + length)..]]); break; // a piece taken out
            case 4: disk.Put(name, bytes[..at]); break;
            case 5: disk.Put(name, otherFile); break;
            case 6: disk.Delete(name); break;
            default: disk.Rename(name, random.Next(2) == 0 ? name + ".damaged" : "0000000099" + name[10..]); break;
        }
    }

    private static SimulatedDisk Filled()
    {
        var disk = new SimulatedDisk();
        using RecordLog log = RecordLog.Open(disk, Options(FirstEpoch));
        for (int i = 1; i <= Records; i++)
        {
            log.Append(default, Payload(i));
        }

        log.Flush();
        return disk;
    }

    private static byte[] Payload(long sequence)
    {
        byte[] payload = new byte[200];
        new Random((int)sequence).NextBytes(payload);
        return payload;
    }

    private static LogOptions Options(LogEpoch epoch) => new() { SchemaVersion = 1, NewEpoch = () => epoch, SegmentBytes = 4096, MaxBytes = 0 };
}
