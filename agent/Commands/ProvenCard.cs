using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Cardassay.Agent.Delivery;
using Cardassay.Identity;
using Cardassay.Journal;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Remembers how far this board's agent has proven the capacity of a card, in a small file of its own: the journal may be delivered and
/// released long before the card comes again. A card is known again by registers, tag and size: two cards with the same registers under two
/// stickers are two cards. A new file is written and synced before it takes the old one's place.
/// </summary>
internal sealed class ProvenCard
{
    /// <summary>
    /// Stands for every block, and for a card that was shown not to keep what it claims: no further proof would say more.
    /// </summary>
    private const double Whole = double.PositiveInfinity;

    private const string WholeText = "whole";

    private readonly string _folder;
    private readonly string _name;

    private ProvenCard(string folder, string name)
    {
        _folder = folder;
        _name = name;
    }

    /// <summary>What is remembered of the card of a run; null for one that shows no registers by which it would be known again.</summary>
    internal static ProvenCard? For(AgentFolder folder, RunSite site)
    {
        if (site.Card is not { Identity: { FromRegisters: true } identity })
        {
            return null;
        }

        string card = $"{identity.Text}\n{site.Tag}\n{site.Target.DeviceBytes}";
        return new ProvenCard(folder.ProvenCards, Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(card)))[..32]);
    }

    /// <summary>
    /// The run that proved the card at least as far as a plan asks for; null when none did, or what is kept cannot be read.
    /// </summary>
    internal string? RunThatProved(PlanProof wanted) =>
        Load() is { } kept && kept.Minutes >= (wanted.Kind == PlanProofKind.Full ? Whole : wanted.Minutes ?? 0) ? kept.Run : null;

    /// <summary>
    /// Remembers a proof, unless it could not be judged or says no more than an earlier one; it is on the disk when this returns.
    /// </summary>
    internal void Remember(ProofMeasured proof)
    {
        ProofJudgement judgement = ProofJudgement.Of(proof);
        double minutes = judgement.IsWhole || judgement.Word == ProofWord.Overstated
            ? Whole
            : TimeSpan.FromTicks((proof.BudgetNs ?? 0) / 100).TotalMinutes;
        if (judgement.Word == ProofWord.NotJudged || proof.Kind == ProofKind.FreeSpace || Load()?.Minutes >= minutes)
        {
            return;
        }

        Directory.CreateDirectory(_folder);
        var disk = new RealLogDisk(_folder);
        string next = _name + ".new";
        using (ILogFile file = disk.Create(next))
        {
            string budget = double.IsInfinity(minutes) ? WholeText : minutes.ToString("0.###", CultureInfo.InvariantCulture);
            file.Write(0, Encoding.UTF8.GetBytes($"{proof.RunId} {budget}\n"));
            file.Sync();
        }

        disk.Rename(next, _name);
        disk.SyncFolder();
    }

    private (string Run, double Minutes)? Load()
    {
        string path = Path.Combine(_folder, _name);
        string[] words = File.Exists(path) ? File.ReadAllText(path).Split([' ', '\n'], StringSplitOptions.RemoveEmptyEntries) : [];
        return words is not [var run, var far] ? null
            : far == WholeText ? (run, Whole)
            : double.TryParse(far, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double minutes) ? (run, minutes)
            : null;
    }
}
