using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Sysfs;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Waits for a card to be taken out and put in again: whatever its controller only remembered is then forgotten. Recognised by
/// `diskseq`, which changes with the medium; the identity must be the same.
/// </summary>
internal static class Reinsertion
{
    private static readonly TimeSpan AskEvery = TimeSpan.FromSeconds(1);

    /// <summary>Returns the same card as a new target.</summary>
    /// <exception cref="ProofStop">Another card was put in, or it is there but cannot be opened.</exception>
    internal static IBlockTarget Wait(SysfsTree tree, RunSite site, HeldTarget held, RunDisplay display, CancellationToken cancel)
    {
        CardSighting card = site.Card!;
        held.Release();
        display.Line($"Everything is written. Take the card out of {card.DiskName}, wait ten seconds and put it in again; then it is read. "
            + "Leave the board on and the card alone: after a start, or when something else wrote to the card, the proof begins anew.");
        while (true)
        {
            CardSighting? now = CardSighting.Take(tree, card.DiskName);
            if (now is { DiskBytes: > 0 } && now.Identity != card.Identity)
            {
                throw new ProofStop(RunOutcome.Interrupted,
                    $"{card.DiskName} is another card now: {now.Identity} instead of {card.Identity}.");
            }

            if (now is { DiskBytes: > 0 } && now.DiskSequence != card.DiskSequence)
            {
                try
                {
                    site.PutInAgain(now);
                    held.TakeAgain();
                    return held.Target;
                }
                catch (CommandException e)
                {
                    throw new ProofStop(RunOutcome.Failed, e.Message);
                }
            }

            if (cancel.WaitHandle.WaitOne(AskEvery))
            {
                cancel.ThrowIfCancellationRequested();
            }
        }
    }
}
