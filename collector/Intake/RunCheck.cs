using System.Globalization;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>Holds what a store keeps of its runs against their records.</summary>
internal static class RunCheck
{
    /// <summary>What does not agree, each as words that name the run.</summary>
    /// <param name="store">A store that stands still meanwhile. All its records are read.</param>
    internal static V1.Rebuilt Of(IRecordStore store)
    {
        var answer = new V1.Rebuilt();
        if (store.Runs is not { IsWhole: true } index)
        {
            return answer;
        }

        var there = StoredRun.Of(store.Records()).ToDictionary(r => r.Key);
        var missing = new HashSet<RunKey>(there.Keys);
        foreach (StoredRun run in index.All(RunKeeping.Version))
        {
            answer.CheckedRuns++;
            answer.KeptRuns += run.Kept is null ? 0u : 1;
            missing.Remove(run.Key);
            if (WhatIsWrong(index, run, there.GetValueOrDefault(run.Key)) is { } wrong)
            {
                answer.Disagreeing.Add($"{run.Key}: {wrong}");
            }
        }

        answer.Disagreeing.Add(missing.Select(key => $"{key}: nothing says where its records are").Order(StringComparer.Ordinal));
        return answer;
    }

    private static string? WhatIsWrong(IRunIndex index, StoredRun run, StoredRun? there)
    {
        if (run.IsSpoilt)
        {
            return "what is kept of it is damaged";
        }

        // A journal that two collectors hold is read from its records; all that has to be right of it is where they are.
        if (there is not null && (run.First > there.First || run.Last < there.Last))
        {
            return string.Create(
                CultureInfo.InvariantCulture, $"records {there.First} to {there.Last} are there, {run.First} to {run.Last} are known");
        }

        if (run.Kept is null)
        {
            return null;
        }

        return there is null || (there.Records, there.Fingerprint) != (run.Records, run.Fingerprint)
            ? string.Create(
                CultureInfo.InvariantCulture,
                $"what is kept of it was made from {run.Records} records, and they are not the {there?.Records ?? 0} that are there")
            : run.Kept.AsSpan().SequenceEqual(RunKeeping.Made(index, run).Kept) ? null
            : "what is kept of it is not what its records say";
    }
}
