namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// The one limit of time in these tests. What they wait for comes when it comes: a busy machine emulates a hundred times as slowly as a quiet
/// one, and says nothing about the agent by it. The limit only ends what hangs.
/// </summary>
public static class Hang
{
    /// <summary>After which a wait is given up.</summary>
    public static readonly TimeSpan Limit = TimeSpan.FromMinutes(30);
}
