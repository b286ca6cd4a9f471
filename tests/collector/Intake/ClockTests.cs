using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage.LiteDb;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>Whatever a board's clock says, its records keep the order of the journal and count for the night they were received in.</summary>
public sealed class ClockTests : IAsyncLifetime
{
    private static readonly TimeSpan Year = TimeSpan.FromDays(365);

    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Theory]
    [InlineData(-10, 0)]
    [InlineData(10, 0)]
    [InlineData(0, -1)] // jumps back by an hour in the middle of the run
    [InlineData(10, -1)]
    [InlineData(-56, 0)] // no clock at all: 1970
    public async Task Records_OfABoardWithAnyClock_KeepOrderAndNight(int yearsOff, int hoursJumped)
    {
        byte[] epoch = TestBoard.NewEpoch();
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        DateTimeOffset boardNow = yearsOff <= -50 ? DateTimeOffset.UnixEpoch.AddMinutes(3) : now + (Year * yearsOff);
        var run = new RunId(Guid.NewGuid());
        Observation[] night =
        [
            new RunOpened
            {
                RunId = run, Target = TargetKind.Folder, TargetPath = "/media/card", TargetBytes = 1 << 30, PlanName = "p", PlanVersion = "1", PlanText = "{}",
                HostName = "bench", KernelRelease = "6", BootId = "b", AgentVersion = "0", Attachment = Attachment.Reader,
            },
            .. Enumerable.Range(0, 6).Select(Trial),
            new RunClosed { RunId = run, Outcome = RunOutcome.Completed },
        ];
        using (var board = new TestBoard(_collector))
        {
            await board.SendAsync(new V1.FromBoard
            {
                Greeting = new V1.Greeting
                {
                    ProtocolLowest = 1, ProtocolHighest = 1, BoardName = "bench", BootId = ByteString.CopyFrom(new byte[16]), WallUnixNs = Ns(boardNow),
                    Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(epoch), FirstSequence = 1, LastSequence = (ulong)night.Length } },
                },
            });
            await board.NextAsync();
            await board.SendAsync([.. night.Select((o, i) =>
            {
                V1.Record record = TestBoard.Record(epoch, (ulong)i + 1, ObservationCodec.Encode(o));
                record.WallUnixNs = Ns(boardNow.AddMinutes(-10 + i).AddHours(i > 3 ? hoursJumped : 0));
                record.MonotonicNs = i * 60_000_000_000L;
                return record;
            })]);
            await board.ReceiptAsync((ulong)night.Length);
            await _collector.StatusAsync();
        }

        await _collector.StopAsync();
        using LiteDbStore store = LiteDbStore.Open(Path.Combine(_collector.Folder, "store", "cardassay.db"));
        MasterData data = MasterDataLoader.Load(store);
        RunRecord kept = Assert.Single(data.Runs);

        Assert.Equal(Enumerable.Range(0, 6), kept.Trials.Select(t => t.Trial.Index));
        Assert.Equal(Enumerable.Range(2, 6).Select(i => (long)i), kept.Trials.Select(t => t.Key.Sequence));
        Assert.Equal(6_000_000_000, kept.Trials.Sum(t => t.Trial.ElapsedNs)); // durations are monotonic, no jump is in them
        DateOnly tonight = Night.Of(now);
        Assert.Contains(NightClock.NightOf(kept), (DateOnly[])[tonight, Night.Of(now.AddMinutes(-15)), Night.Of(kept.ReceivedAt)]);
        Assert.Equal(yearsOff == 0, NightClock.IsBelieved(kept));

        TrialMeasured Trial(int index) => new()
        {
            RunId = run, Index = index, Part = 0, Repetition = index + 1, Kind = TrialKind.RandomRead, Operations = 10, Bytes = 1_000,
            ElapsedNs = 1_000_000_000, Latency = new LatencyHistogram(), Timeline = [], Stalls = [],
        };
    }

    private static long Ns(DateTimeOffset at) => (at - DateTimeOffset.UnixEpoch).Ticks * 100;
}
