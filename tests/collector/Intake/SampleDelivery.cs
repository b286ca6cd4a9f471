using Cardassay.Collector.Analysis;
using Cardassay.Collector.Tests.Report;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>A board that delivers a whole run of the card T-01.</summary>
internal static class SampleDelivery
{
    /// <summary>Comes back when the collector gave the receipt for all of it.</summary>
    /// <param name="collector">Where to.</param>
    /// <param name="night">Which night's run of the sample, from 0: each is another run.</param>
    internal static async Task DeliverAsync(CollectorFixture collector, int night = 0)
    {
        RunRecord run = SampleData.Build(cards: 1, nights: night + 1, repetitions: 2, invented: false).Runs[night];
        Observation[] said =
        [
            run.Opened, run.Card!, .. run.Trials.Select(t => t.Trial), new RunClosed { RunId = run.Opened.RunId, Outcome = RunOutcome.Completed, BytesWritten = 1 },
        ];
        using var board = new TestBoard(collector);
        byte[] epoch = TestBoard.NewEpoch();
        await board.GreetAsync(epoch, 1, (ulong)said.Length);
        await board.NextAsync();
        await board.SendAsync([.. said.Select((o, i) => TestBoard.Record(epoch, (ulong)i + 1, ObservationCodec.Encode(o)))]);
        await board.ReceiptAsync((ulong)said.Length);
        await board.EndAsync();
    }
}
