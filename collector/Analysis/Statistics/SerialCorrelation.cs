namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Dependence of neighbouring repetitions.</summary>
public static class SerialCorrelation
{
    /// <summary>Lag-1 autocorrelation around the common mean (the definition of NIST StRD); null below two values or without variation.</summary>
    public static double? LagOne(ReadOnlySpan<double> values)
    {
        double mean = values.Length < 2 ? 0 : Summary.MeanOf(values), products = 0, squares = 0;
        for (int i = 0; i < values.Length; i++)
        {
            squares += (values[i] - mean) * (values[i] - mean);
            products += i == 0 ? 0 : (values[i] - mean) * (values[i - 1] - mean);
        }

        return squares == 0 ? null : products / squares;
    }
}
