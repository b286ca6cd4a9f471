using System.Globalization;
using Cardassay.Journal;

namespace Cardassay.SharedCore.Tests.Journal;

/// <summary>A log in a temporary folder, with epochs that count up instead of being random.</summary>
internal sealed class LogFolder : IDisposable
{
    public static readonly LogStamp Stamp = new(12_345, 1_700_000_000_000_000_000, new Guid("00112233-4455-6677-8899-aabbccddeeff"));

    private int _epochs;

    public string Path { get; } = Directory.CreateTempSubdirectory("cardlog-").FullName;

    public LogOptions Options => new() { SchemaVersion = 3, NewEpoch = NextEpoch, SegmentBytes = 4096, MaxBytes = 0 };

    public RecordLog Open(LogOptions? options = null) => RecordLog.Open(new RealLogDisk(Path), options ?? Options);

    public string[] SegmentFiles => [.. Directory.GetFiles(Path, "*.cardlog*").Order(StringComparer.Ordinal)];

    public static byte[] Payload(long number) => System.Text.Encoding.ASCII.GetBytes(number.ToString("D100", CultureInfo.InvariantCulture));

    /// <summary>Appends numbered payloads and makes them durable.</summary>
    public static void Fill(RecordLog log, int count)
    {
        for (int i = 0; i < count; i++)
        {
            log.Append(Stamp, Payload(log.LastSequence + 1));
        }

        log.Flush();
    }

    public static long[] Sequences(RecordLog log, LogEpoch epoch) => [.. log.Read(epoch, 1).Select(record => record.Sequence)];

    public void Dispose() => Directory.Delete(Path, recursive: true);

    private LogEpoch NextEpoch()
    {
        _epochs++;
        return LogEpoch.FromBytes([.. Enumerable.Repeat((byte)0xE0, 15), (byte)_epochs]);
    }
}
