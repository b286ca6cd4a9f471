using System.Globalization;
using Cardassay.Trials;
using Cardassay.Trust;

namespace Cardassay.Agent.Commands;

/// <summary>Figures as people read them.</summary>
internal static class Text
{
    internal static string Bytes(long bytes) => bytes switch
    {
        < 10_000 => string.Create(CultureInfo.InvariantCulture, $"{bytes} B"),
        < 10_000_000 => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e3:0} kB"),
        < 10_000_000_000 => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e6:0} MB"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e9:0.0} GB"),
    };

    internal static string Duration(double seconds) => seconds switch
    {
        < 100 => string.Create(CultureInfo.InvariantCulture, $"{seconds:0} s"),
        < 6000 => string.Create(CultureInfo.InvariantCulture, $"{seconds / 60:0} min"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{seconds / 3600:0.0} h"),
    };

    /// <summary>"about 56 s", or "10 to 30 min" where an adaptive plan may end earlier.</summary>
    internal static string Span(double leastSeconds, double mostSeconds) => Duration(leastSeconds) == Duration(mostSeconds)
        ? $"about {Duration(mostSeconds)}"
        : $"{Duration(leastSeconds)} to {Duration(mostSeconds)}";

    /// <summary>A latency, or "n/a" below the least number of operations for that percentile.</summary>
    internal static string Latency(long? ns) => ns switch
    {
        null => "n/a",
        < 1_000_000 => string.Create(CultureInfo.InvariantCulture, $"{ns.Value / 1e6:0.000} ms"),
        < 100_000_000 => string.Create(CultureInfo.InvariantCulture, $"{ns.Value / 1e6:0.0} ms"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{ns.Value / 1e6:0} ms"),
    };

    /// <summary>Text from outside without anything a terminal would obey.</summary>
    internal static string Clean(string text) => PlainText.Clean(text);
}
