using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>What is wanted of one trial.</summary>
/// <param name="Step">What it does.</param>
/// <param name="Index">Its position in the run, from 0.</param>
/// <param name="Repetition">Repetition of the step, from 1.</param>
/// <param name="Role">Whether it counts.</param>
/// <param name="Rate">Operations per second.</param>
/// <param name="Stalls">How many operations take longer than the limit.</param>
/// <param name="UnderVoltage">True to let the supply fail in the middle of it.</param>
internal sealed record TrialOrder(PlanStep Step, int Index, int Repetition, TrialRole Role, double Rate, int Stalls, bool UnderVoltage);
