namespace Cardassay.Collector.Analysis;

/// <summary>An identity seen under a card's name.</summary>
/// <param name="Text">Identity text.</param>
/// <param name="FromRegisters">True when it comes from the registers.</param>
/// <param name="Runs">Opening records of the runs that showed it.</param>
public sealed record SeenIdentity(string Text, bool FromRegisters, IReadOnlyList<RecordKey> Runs);
