using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Demo.Tests;

/// <summary>The data set, made once, with the questions the tests ask of it. They ask the records, not the catalogue that made them.</summary>
internal static class Tarrow24
{
    public static readonly IReadOnlyList<BoardRecords> Boards = DemoData.Boards();

    public static readonly IReadOnlyList<Claim> ClaimsMade = Claims.All();

    public static IEnumerable<Observation> All => Boards.SelectMany(b => b.Records).Select(r => r.Observation);

    public static readonly ILookup<string, RunOpened> RunsByTag = All.OfType<RunOpened>().ToLookup(r => r.Tag!);

    public static readonly ILookup<RunId, TrialMeasured> TrialsByRun = All.OfType<TrialMeasured>().ToLookup(t => t.RunId);

    public static readonly ILookup<RunId, ProofMeasured> ProofsByRun = All.OfType<ProofMeasured>().ToLookup(p => p.RunId);

    public static readonly IReadOnlyDictionary<RunId, CardIdentified> Identified = All.OfType<CardIdentified>().ToDictionary(i => i.RunId);

    public static IEnumerable<TrialMeasured> TrialsOf(string tag) => RunsByTag[tag].SelectMany(r => TrialsByRun[r.RunId]);

    public static ProofMeasured? ProofOf(string tag) => RunsByTag[tag].SelectMany(r => ProofsByRun[r.RunId]).SingleOrDefault();

    /// <summary>Trials that count.</summary>
    public static IEnumerable<TrialMeasured> MeasuredOf(string tag, TrialKind kind) =>
        TrialsOf(tag).Where(t => t.Kind == kind && t.Role == TrialRole.Measured && t.Valid);

    public static CardIdentified CardOf(string tag) => Identified[RunsByTag[tag].First().RunId];

    public static T Register<T>(string tag, string file, Func<string?, Reading<T>> parse)
    {
        Reading<T> reading = parse(CardOf(tag).Files[file].Value);
        Assert.True(reading.IsKnown, $"{tag} {file}: {reading.Reason}");
        return reading.Value!;
    }

    public static double Figure(TrialMeasured trial) =>
        trial.Kind is TrialKind.SequentialRead or TrialKind.SequentialWrite ? trial.BytesPerSecond / 1e6 : trial.OperationsPerSecond;

    public static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return sorted.Length % 2 == 1 ? sorted[sorted.Length / 2] : (sorted[(sorted.Length / 2) - 1] + sorted[sorted.Length / 2]) / 2;
    }

    public static readonly IReadOnlyList<TrialKind> Kinds =
        [TrialKind.RandomRead, TrialKind.RandomWrite, TrialKind.SynchronousWrite, TrialKind.SequentialRead, TrialKind.SequentialWrite];
}
