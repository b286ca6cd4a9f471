using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Commands;
using Cardassay.Identity;
using Cardassay.Tests.Registers;
using Cardassay.Trials;

namespace Cardassay.Cards.Tests;

/// <summary>What a proof of a served card came to: the word, the sentence, the exit code of `prove`, the verdict on a card that lacks nothing but a proof.</summary>
internal sealed record Said(ProofWord Word, string Statement, int ExitCode, VerdictKind Verdict, ProofMeasured Proof, ProofJudgement Judgement)
{
    /// <summary>Proves it, with every pause in full.</summary>
    public static Said Of(string devicePath, Mode mode, CardSize size, ulong seed = 1)
    {
        using DeviceTarget target = Open(devicePath);
        var context = new ProofContext
        {
            RunId = new RunId(Guid.Empty),
            Seed = seed,
            ClaimedBytes = target.SizeBytes,
            Observer = new Silent(),
        };
        ProofEnd end = mode == Mode.Full
            ? FullProof.Run(target, new FullOptions { Kind = ProofKind.Full, EvictionBytes = size.EvictionBytes, CheckpointBytes = size.EvictionBytes }, null, context, CancellationToken.None)
            : SparseProof.Run(target, new SparseOptions { EvictionBytes = size.EvictionBytes, Budget = mode == Mode.Timed ? size.Budget : null }, context, CancellationToken.None);
        var result = new ProveResult(context.RunId, null!, end.Proof, end.Outcome, end.Reason);
        var evidence = new CardEvidence
        {
            Registers = RegisterVectors.V7.Registers(62_277_025_792),
            Claim = new Claim { Tag = "T", LabelGigabytes = 64, Marks = [] },
            Today = new DateOnly(2025, 1, 1),
            Proof = CapacityProofSummary.Of([end.Proof]),
        };
        return new Said(result.Judgement.Word, ProofFindings.Statement(end.Proof), result.IsClean ? 0 : 1, CardJudge.Judge(evidence).Verdict.Kind, end.Proof, result.Judgement);
    }

    /// <summary>Whatever looks at new devices may hold this one for a moment.</summary>
    private static DeviceTarget Open(string devicePath)
    {
        for (int i = 0; ; i++)
        {
            try
            {
                return DeviceTarget.Open(devicePath, forWriting: true);
            }
            catch (TargetException e) when (e.Kind == TargetErrorKind.InUse && i < 50)
            {
                using var wait = new ManualResetEventSlim();
                wait.Wait(100);
            }
        }
    }

    /// <summary>The exit code and the verdict each word must bring.</summary>
    public string? Inconsistency() => (Word, ExitCode, Verdict) switch
    {
        (ProofWord.NoOverstatementFound, 0, VerdictKind.AsClaimed or VerdictKind.AsClaimedSparselyProbed) => null,
        (ProofWord.Defective, 1, VerdictKind.Doubtful) => null,
        (ProofWord.NotJudged, 1, VerdictKind.NotProven) => null,
        (ProofWord.Overstated, 1, VerdictKind.NotAsClaimed) => null,
        _ => $"{Word} with exit code {ExitCode} and verdict {Verdict}",
    };

    private sealed class Silent : IProofObserver
    {
        public void OnProgress(ProofProgress progress)
        {
        }

        public void OnCheckpoint(ProofMeasured soFar)
        {
        }
    }
}
