using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Cuts a long trial into parts of at most five minutes that follow each other, so that a power cut costs one part and no record
/// grows large; and adds up what they measured. A cliff is never cut: the flush between two parts would empty the very cache it looks for.
/// </summary>
internal sealed class LongTrial(TrialSpec whole)
{
    /// <summary>Longest part, seconds.</summary>
    public const double MostSeconds = 300;

    private double _secondsLeft = whole.Seconds;
    private long _operationsLeft = whole.OperationsAtMost;
    private long _operations;
    private long _elapsedNs;
    private double? _figure;
    private bool _isInvalid;

    /// <summary>Number of the current part, from 1; 0 when the trial is whole.</summary>
    public int Number { get; private set; }

    /// <summary>Its figure (<see cref="TrialFigure"/>) over all parts; null when a part is invalid or missing.</summary>
    public double? Figure => _isInvalid ? null : _figure;

    /// <summary>The next part, or null when the trial is done.</summary>
    public TrialSpec? Next(ulong seed)
    {
        // What is left below a tenth of a second is the run-over of the part before.
        if (_secondsLeft < 0.1 && _elapsedNs > 0 || _operationsLeft <= 0 || _isInvalid)
        {
            return null;
        }

        bool isWhole = whole.Seconds <= MostSeconds || whole.Kind == TrialKind.Cliff;
        if (isWhole && _elapsedNs > 0)
        {
            return null;
        }

        Number = isWhole ? 0 : Number + 1;
        return whole with
        {
            Seed = seed,
            Seconds = isWhole ? _secondsLeft : Math.Min(MostSeconds, _secondsLeft),
            OperationsAtMost = _operationsLeft,
            FirstTurn = _operations,
        };
    }

    /// <summary>Takes in a part; null is one that was not kept.</summary>
    public void Add(TrialMeasured? part)
    {
        if (part is not { Valid: true })
        {
            _isInvalid = true;
            return;
        }

        // Rates over a longer time are the means of theirs by time; what is the slowest of a part is the slowest of all.
        double figure = TrialFigure.Of(part);
        long elapsedNs = Math.Max(1, part.ElapsedNs);
        _figure = _figure is not { } before ? figure
            : part.Kind == TrialKind.ClassWrite ? Math.Min(before, figure)
            : ((before * _elapsedNs) + (figure * elapsedNs)) / (_elapsedNs + elapsedNs);
        _operations += part.Operations;
        _elapsedNs += elapsedNs;
        _operationsLeft -= part.Operations;
        _secondsLeft -= part.ElapsedNs / 1e9;
    }
}
