namespace Cardassay.Journal;

/// <summary>Records which the log once held, which nobody has released, and which cannot be read any more.</summary>
/// <param name="Epoch">The series they belonged to.</param>
/// <param name="First">First sequence number lost.</param>
/// <param name="Last">Last sequence number lost.</param>
/// <param name="Reason">What was found, as a sentence that names the file.</param>
public sealed record LostRange(LogEpoch Epoch, long First, long Last, string Reason);
