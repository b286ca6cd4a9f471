using System.Security.Cryptography;
using Cardassay.Fixtures;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Journal;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>
/// Messages of boards and the intake log that came of them, byte for byte: whatever reads and writes them, old boards and old logs stay
/// readable, and a record stands in the log as it came.
/// </summary>
public sealed class LogBytesTests : IDisposable
{
    private const string A = "000102030405060708090a0b0c0d0e0f";
    private const string B = "f0f1f2f3f4f5f6f7f8f9fafbfcfdfeff";

    /// <summary>
    /// Taken in by the collector of commit e47d8d7, which found records in the bytes of a message and put entries around them by itself.
    /// First two records of A as an agent sends them, the second declares 1 of B lost. Then three of B: one without a boot and with a clock before
    /// 1970; one with fields of a later version, a group among them; one with its fields in another order, one twice and a number longer
    /// than it need be. Then another content of A's first.
    /// </summary>
    private static readonly (string Message, long ClockOffsetNs)[] Sent =
    [
        ("129E010A390A10000102030405060708090A0B0C0D0E0F100118012005288080F8EFC893DACB183210333333333333333333333333333333333A030102030A610A10000102030405060708090A0B0C0D0E0F100218012005288094E3CCCC93DACB183210333333333333333333333333333333333A2B32290A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF100118012211612064616D61676564207365676D656E74", -5_000),
        ("1296010A280A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF10021801200528FFFFFFFFFFFFFFFFFF013A030405060A470A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF10031801200528033210333333333333333333333333333333333A02070852030909095B08015C65010203046901020304050607080A213A020B0C108480000A01000A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF20051801", 0),
        ("12390A370A10000102030405060708090A0B0C0D0E0F1001180120052880A8CEA9D093DACB183210333333333333333333333333333333333A0163", 7),
    ];

    /// <summary>The file that collector wrote, with the clocks below.</summary>
    private const string Segment =
        "436172644C6F670A010000004C0000000100000000000000C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF010000000000000000000000000000000000000000000000"
        + "0000000000000000D7A927155D00000001000000C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF0100000000000000393000000000000000E874D6B3689718D0D1D2D3"
        + "D4D5D6D7D8D9DADBDCDDDEDF0880D0D3B3BD96DACB1812510A09686172626F75722D3112390A10000102030405060708090A0B0C0D0E0F100118012005288080"
        + "F8EFC893DACB183210333333333333333333333333333333333A0301020320F8D8FFFFFFFFFFFFFF01878EDC9F8500000001000000C0C1C2C3C4C5C6C7C8C9CA"
        + "CBCCCDCECF0200000000000000393000000000000000E874D6B3689718D0D1D2D3D4D5D6D7D8D9DADBDCDDDEDF0880D0D3B3BD96DACB1812790A09686172626F"
        + "75722D3112610A10000102030405060708090A0B0C0D0E0F100218012005288094E3CCCC93DACB183210333333333333333333333333333333333A2B32290A10"
        + "F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF100118012211612064616D61676564207365676D656E7420F8D8FFFFFFFFFFFFFF0151F40C674100000001000000C0C1"
        + "C2C3C4C5C6C7C8C9CACBCCCDCECF0300000000000000393000000000000000E874D6B3689718D0D1D2D3D4D5D6D7D8D9DADBDCDDDEDF0880D0D3B3BD96DACB18"
        + "12350A09686172626F75722D3112280A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF10021801200528FFFFFFFFFFFFFFFFFF013A03040506B8ABB5D26000000001"
        + "000000C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF0400000000000000393000000000000000E874D6B3689718D0D1D2D3D4D5D6D7D8D9DADBDCDDDEDF0880D0D3B3"
        + "BD96DACB1812540A09686172626F75722D3112470A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF1003180120052803321033333333333333333333333333333333"
        + "3A02070852030909095B08015C65010203046901020304050607080E1C78933A00000001000000C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF050000000000000039"
        + "3000000000000000E874D6B3689718D0D1D2D3D4D5D6D7D8D9DADBDCDDDEDF0880D0D3B3BD96DACB18122E0A09686172626F75722D3112213A020B0C10848000"
        + "0A01000A10F0F1F2F3F4F5F6F7F8F9FAFBFCFDFEFF20051801798ED5DC5400000001000000C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF0600000000000000393000"
        + "000000000000E874D6B3689718D0D1D2D3D4D5D6D7D8D9DADBDCDDDEDF0880D0D3B3BD96DACB1812480A09686172626F75722D3112370A100001020304050607"
        + "08090A0B0C0D0E0F1001180120052880A8CEA9D093DACB183210333333333333333333333333333333333A016318012007BE218E5F";

    private const string SegmentName = "0000000001-c0c1c2c3c4c5c6c7c8c9cacbcccdcecf-000000000001.cardlog";

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-bytes-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task AcceptAsync_MessagesOfOldBoards_WritesTheBytesOfTheOldCollector()
    {
        await WithDeskAsync(async (desk, _, _) =>
        {
            Assert.Equal([(2, 0), (3, 0), (0, 1)], await SendAsync(desk));
        });
        string file = Assert.Single(Directory.GetFiles(_folder, "*.cardlog"));
        Assert.Equal(SegmentName, Path.GetFileName(file));
        Assert.Equal(Segment, Convert.ToHexString(await File.ReadAllBytesAsync(file)));
    }

    [Fact]
    public async Task OldLog_IsReadTheSame_AndKnowsWhatComesAgain()
    {
        await File.WriteAllBytesAsync(Path.Combine(_folder, SegmentName), Convert.FromHexString(Segment));
        await WithDeskAsync(async (desk, log, store) =>
        {
            Assert.Equal([(A, 1L), (A, 2L), (B, 2L), (B, 3L), (B, 4L)], store.Records().Select(r => (r.Key.Epoch, r.Key.Sequence)));
            Assert.Equal(
                ["010203", "040506", "0708", "0B0C", "63"],
                store.Records().Where(r => r.Key != new RecordKey(A, 2)).Concat(store.Conflicts()).Select(r => Convert.ToHexString(r.Payload)));
            Assert.All(store.Records().Concat(store.Conflicts()), r => Assert.Equal(SHA256.HashData(r.Payload), r.Hash));
            Assert.Equal([(A, 2L), (B, 4L)], store.Marks().OrderBy(m => m.Epoch, StringComparer.Ordinal).Select(m => (m.Epoch, m.Through)));
            Assert.Equal([-5_000L, -5_000L, 0L, 0L, 0L, 7L], store.Records().Concat(store.Conflicts()).Select(r => r.ClockOffsetNs));
            Assert.Equal([(0, 0), (0, 0), (0, 0)], await SendAsync(desk));
            Assert.Equal(6, log.LastSequence);
        });
    }

    private static async Task<IEnumerable<(int Fresh, int Conflicts)>> SendAsync(IntakeDesk desk)
    {
        var came = new List<(int, int)>();
        foreach ((string message, long clockOffsetNs) in Sent)
        {
            V1.FromBoard read = V1.FromBoard.Parser.ParseFrom(Convert.FromHexString(message));
            IntakeAnswer answer = await desk.AcceptAsync("harbour-1", read.Records.Memory, clockOffsetNs, CancellationToken.None);
            came.Add((answer.Fresh, answer.Conflicts));
        }

        return came;
    }

    private async Task WithDeskAsync(Func<IntakeDesk, RecordLog, IRecordStore, Task> use)
    {
        using var log = RecordLog.Open(new RealLogDisk(_folder), new LogOptions
        {
            MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(new Guid("c0c1c2c3-c4c5-c6c7-c8c9-cacbcccdcecf")),
        });
        await using var commit = new GroupCommit(log);
        var time = new StandingTime();
        var projection = new Projection(log, new PlaceOf(() => new MemoryRecordStore(), () => { }), NullLogger.Instance, time);
        projection.CatchUp();
        await use(new IntakeDesk(log, commit, projection, time, new Guid("d0d1d2d3-d4d5-d6d7-d8d9-dadbdcdddedf")), log, projection.Store);
        projection.Start();
        await projection.DisposeAsync();
    }

    private sealed class StandingTime : TimeProvider
    {
        public override long TimestampFrequency => 1_000_000_000;

        public override long GetTimestamp() => 12_345;

        public override DateTimeOffset GetUtcNow() => DateTimeOffset.UnixEpoch.AddSeconds(1_772_000_100);
    }
}
