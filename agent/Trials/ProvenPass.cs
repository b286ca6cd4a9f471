namespace Cardassay.Agent.Trials;

/// <summary>What a capacity proof between the long write and the trials of a run leaves behind.</summary>
/// <param name="Stop">Why the run goes no further; null when it does.</param>
/// <param name="BytesWritten">Bytes it wrote.</param>
/// <param name="Seconds">Time it took.</param>
/// <param name="WroteWhole">True when it wrote every block of the device.</param>
/// <param name="Nonce">When every block then read back right: the pass they are of, so that trials need no other; else null.</param>
internal sealed record ProvenPass(RunStop? Stop, long BytesWritten, double Seconds, bool WroteWhole, ulong? Nonce);
