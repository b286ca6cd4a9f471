namespace Cardassay.Collector.Report.Model;

/// <summary>A run that would teach something the coming night; nobody has scheduled it.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Board">Board, or "any".</param>
/// <param name="Plan">Plan, or empty for the one the user likes.</param>
/// <param name="Runs">Runs proposed.</param>
/// <param name="Hours">Hours they take together.</param>
/// <param name="Why">What they teach, as a sentence.</param>
public sealed record ProposedRun(string Card, string Board, string Plan, int Runs, Figure Hours, string Why);
