using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>A record before it is encoded: when the board made it, and what it says.</summary>
internal sealed record Stamped(LogStamp Stamp, Observation Observation);
