namespace Cardassay.Simulation.Tests.Journal;

/// <summary>The process ended inside a disk operation. Not an IOException, so that no code under test takes it for a disk's error.</summary>
public sealed class SimulatedCrash() : Exception("The simulated process ended here.");
