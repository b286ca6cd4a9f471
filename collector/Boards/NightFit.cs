namespace Cardassay.Collector.Boards;

/// <summary>What an entry comes to as things stand.</summary>
internal sealed record NightFit
{
    /// <summary>Begin of its first run; null when none fits.</summary>
    internal DateTimeOffset? Begins { get; set; }

    /// <summary>End of its last run that fits, as expected.</summary>
    internal DateTimeOffset? Ends { get; set; }

    /// <summary>The same with 90 % probability.</summary>
    internal DateTimeOffset? EndsBy { get; set; }

    /// <summary>Runs that fit.</summary>
    internal uint Fits { get; set; }

    /// <summary>Runs for which there is no time.</summary>
    internal uint Dropped { get; set; }
}
