using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>A run that was cut off.</summary>
/// <param name="RunId">Which.</param>
/// <param name="Duty">Which run of the schedule it was ("schedule id/number"); "" for one started by hand.</param>
/// <param name="Step">The step it was at; "" when it had not come to one.</param>
/// <param name="Reason">Why it ended, as the journal says it.</param>
internal sealed record InterruptedRun(RunId RunId, string Duty, string Step, string Reason);
