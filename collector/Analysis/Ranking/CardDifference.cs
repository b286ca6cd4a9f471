namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>The difference of two composites on logarithms.</summary>
/// <param name="Log">First less second.</param>
/// <param name="Error">Its standard error, at the most; not a number where it is not known.</param>
/// <param name="Df">Degrees of freedom of it.</param>
/// <param name="Needed">How large the difference must be to be told, at the joint level; infinite where no order can be known.</param>
internal readonly record struct CardDifference(double Log, double Error, double Df, double Needed)
{
    /// <summary>True when the first is surely faster.</summary>
    public bool IsSure => Log > Needed;
}
