using System.Globalization;
using Cardassay.Agent.Delivery;
using Cardassay.Journal;
using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Runs of the schedule that ended, kept in a file until the collector has written them down. A file that is lost or damaged costs no
/// measurement: the collector gives such a run out again.
/// </summary>
internal sealed class FinishedDuties
{
    private readonly AgentFolder _folder;
    private readonly List<V1.FinishedDuty> _open;

    internal FinishedDuties(AgentFolder folder)
    {
        _folder = folder;
        _open = Load(folder.FinishedDuties);
    }

    internal IReadOnlyList<V1.FinishedDuty> Open => _open;

    internal void Add(V1.FinishedDuty finished)
    {
        _open.Add(finished);
        Save();
    }

    /// <summary>Reports runs that were cut off, those of them that the schedule asked for.</summary>
    internal void AddInterrupted(IEnumerable<InterruptedRun> all)
    {
        foreach (InterruptedRun cut in all)
        {
            int slash = cut.Duty.LastIndexOf('/');
            if (slash > 0 && uint.TryParse(cut.Duty.AsSpan(slash + 1), NumberStyles.None, CultureInfo.InvariantCulture, out uint number))
            {
                Add(new V1.FinishedDuty
                {
                    ScheduleId = cut.Duty[..slash],
                    RunNumber = number,
                    Text = cut.Reason,
                    RunId = ByteString.CopyFrom(cut.RunId.Value.ToByteArray(bigEndian: true)),
                    Outcome = (uint)RunOutcome.Interrupted,
                    Step = cut.Step,
                });
            }
        }
    }

    /// <summary>Forgets those the collector has written down ("schedule id/number").</summary>
    internal void Acknowledge(ICollection<string> keys)
    {
        if (_open.RemoveAll(f => keys.Contains(string.Create(CultureInfo.InvariantCulture, $"{f.ScheduleId}/{f.RunNumber}"))) > 0)
        {
            Save();
        }
    }

    private static List<V1.FinishedDuty> Load(string path)
    {
        try
        {
            return File.Exists(path) ? [.. V1.Presence.Parser.ParseFrom(File.ReadAllBytes(path)).Finished] : [];
        }
        catch (Exception e) when (e is IOException or InvalidProtocolBufferException)
        {
            return [];
        }
    }

    private void Save()
    {
        var all = new V1.Presence();
        all.Finished.AddRange(_open);
        Directory.CreateDirectory(_folder.Path);
        KeptFile.Write(_folder.FinishedDuties, all.ToByteArray());
    }
}
