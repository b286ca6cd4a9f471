using Cardassay.Collector.Analysis;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>A record on its way into the intake log, with all that can be said of it before looking at what is there already.</summary>
/// <param name="Board">The board in whose name it counts.</param>
/// <param name="Key">Journal and sequence.</param>
/// <param name="Payload">The observation.</param>
/// <param name="Lost">The range it declares lost; null for any other observation.</param>
/// <param name="IsConflicting">Another content with this key had been received before.</param>
internal readonly record struct Arrival(string Board, RecordKey Key, ReadOnlyMemory<byte> Payload, RangeLost? Lost, bool IsConflicting)
{
    /// <summary>Whether it stands beyond a hole which it explains itself.</summary>
    internal bool ExplainsItsOwnEpoch => IntakeCodec.ExplainsItsOwnEpoch(Lost, Key);
}
