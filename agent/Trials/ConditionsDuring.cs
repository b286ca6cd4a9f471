using Cardassay.Agent.Conditions;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Collects conditions while a trial runs, on the coordinating thread: one a second, and fewer in a long trial so that the record
/// stays small.
/// </summary>
internal sealed class ConditionsDuring(IConditionsSource? source, double trialSeconds)
{
    private const double MostSamples = 300;

    private readonly double _interval = Math.Max(1, trialSeconds / MostSamples);
    private readonly List<Cardassay.Trials.Conditions> _samples = [];
    private double _next;

    public IReadOnlyList<Cardassay.Trials.Conditions> Samples => _samples;

    /// <summary>One sample that is not kept here.</summary>
    public Cardassay.Trials.Conditions Sample() => source?.Sample() ?? new Cardassay.Trials.Conditions();

    /// <summary>Takes a sample when one is due.</summary>
    public void Add(double elapsedSeconds)
    {
        if (source is not null && elapsedSeconds >= _next)
        {
            _samples.Add(source.Sample());
            _next = elapsedSeconds + _interval - 0.5;
        }
    }
}
