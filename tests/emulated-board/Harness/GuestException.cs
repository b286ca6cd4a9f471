namespace Cardassay.EmulatedBoard.Harness;

/// <summary>A guest did not do what a test waits for. The message holds what the scenario printed and the end of the console's log.</summary>
public sealed class GuestException(string message) : Exception(message);
