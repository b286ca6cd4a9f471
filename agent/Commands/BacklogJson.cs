using System.Text.Json;
using Cardassay.Agent.Delivery;

namespace Cardassay.Agent.Commands;

/// <summary>What the collector has not confirmed yet, as JSON.</summary>
internal sealed record BacklogJson(long Records, long UsedBytes, double Fullness, IReadOnlyList<BacklogJson.Kept> Epochs)
{
    internal static string Render(ObservationJournal journal)
    {
        Kept[] epochs = [.. journal.Log.Epochs().Select(e => new Kept(e.Epoch.ToString(), e.First, e.Last, journal.Log.ReleasedThrough(e.Epoch)))];
        return JsonSerializer.Serialize(new BacklogJson(journal.Backlog, journal.Log.UsedBytes, journal.Log.Fullness, epochs), CommandJson.Default.BacklogJson);
    }

    internal sealed record Kept(string Epoch, long First, long Last, long ReceiptThrough);
}
