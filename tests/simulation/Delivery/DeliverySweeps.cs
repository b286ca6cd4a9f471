namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>
/// Run after everything else of this project: board and collector need threads when their turn comes, and the sweeps that compute leave them
/// none for half a minute at a time.
/// </summary>
[CollectionDefinition(Name, DisableParallelization = true)]
public sealed class DeliverySweeps
{
    /// <summary>What its tests name.</summary>
    public const string Name = "delivery sweeps";
}
