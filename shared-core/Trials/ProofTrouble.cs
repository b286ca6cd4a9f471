namespace Cardassay.Trials;

/// <summary>A stretch of addresses in whose transfers the link erred, or during which the device was away.</summary>
/// <param name="StartBytes">First byte.</param>
/// <param name="EndBytes">First byte behind it.</param>
/// <param name="WasWriting">True for writes, false for readings.</param>
/// <param name="LinkErrors">Errors the bus counted meanwhile; 0 also where the host does not count.</param>
/// <param name="Absences">Times the device answered nothing and then came back.</param>
public readonly record struct ProofTrouble(long StartBytes, long EndBytes, bool WasWriting, long LinkErrors, long Absences);
