using System.Buffers.Binary;
using System.Security.Cryptography;
using Cardassay.Journal;

namespace Cardassay.Collector.Backup;

/// <summary>What a log holds, in one count and one hash: two logs with the same have the same records in the same order.</summary>
/// <param name="Entries">Number of records.</param>
/// <param name="Sha256">Over (epoch, sequence, length, payload) of each, lower-case hex.</param>
internal sealed record LogContent(long Entries, string Sha256)
{
    /// <summary>Reads the log to the ends given, checking each record's sum on the way.</summary>
    internal static LogContent Of(RecordLog log, IReadOnlyList<(LogEpoch Epoch, long First, long Last)> epochs)
    {
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        Span<byte> head = stackalloc byte[12];
        long entries = 0;
        foreach ((LogEpoch epoch, long first, long last) in epochs)
        {
            if (last < first)
            {
                continue;
            }

            foreach (LogRecord record in log.Read(epoch, first))
            {
                if (record.Sequence > last)
                {
                    break;
                }

                hash.AppendData(epoch.ToBytes());
                BinaryPrimitives.WriteInt64LittleEndian(head, record.Sequence);
                BinaryPrimitives.WriteInt32LittleEndian(head[8..], record.Payload.Length);
                hash.AppendData(head);
                hash.AppendData(record.Payload.Span);
                entries++;
            }
        }

        return new LogContent(entries, Convert.ToHexStringLower(hash.GetHashAndReset()));
    }
}
