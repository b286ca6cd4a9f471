using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Why a run goes no further.</summary>
/// <param name="Outcome">What the run is then called.</param>
/// <param name="Reason">Why, as a sentence.</param>
/// <param name="IsLimit">True when a limit of the plan was reached.</param>
/// <param name="IsBudget">True when what was to come would pass the budget of the card; what writes less may still come.</param>
/// <param name="IsHung">True when the device no longer answers.</param>
internal sealed record RunStop(RunOutcome Outcome, string Reason, bool IsLimit = false, bool IsBudget = false, bool IsHung = false);
