using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>When a board wrote a record.</summary>
/// <param name="MonotonicNs">Time since its start, ns.</param>
/// <param name="Wall">Its wall time.</param>
/// <param name="BootId">Its boot id.</param>
internal readonly record struct Stamp(long MonotonicNs, DateTimeOffset Wall, string BootId);

/// <summary>A record before it is encoded.</summary>
internal sealed record Stamped(Stamp Stamp, Observation Observation);
