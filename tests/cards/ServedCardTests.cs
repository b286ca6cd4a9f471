using System.Collections.Concurrent;
using System.Globalization;
using System.Text;
using Cardassay.Identity;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Cards.Tests;

/// <summary>
/// Every kind of card as a real block device, proven sparsely, with a time budget and in full: what is said, the exit code, the verdict. The table
/// of tests/README.md is what these tests print.
/// </summary>
public sealed class ServedCardTests(ITestOutputHelper output)
{
    /// <summary>Most of the time goes by in pauses.</summary>
    private static readonly int AtOnce = CardSize.IsFull ? 6 : 12;

    [SkippableFact]
    public void Prove_HonestCards_AccusesNone() => Check(Kinds.Honest, Enum.GetValues<Mode>());

    [SkippableFact]
    public void Prove_CardsThatAreAwayForAWhile_AccusesNone() => Check(Kinds.Away, CardSize.IsFull ? Enum.GetValues<Mode>() : [Mode.Sparse]); // each waits for up to a minute

    [SkippableFact]
    public void Prove_LyingCards_AcquitsOnlyWhereTheSentenceSaysSo() => Check(Kinds.Lying, Enum.GetValues<Mode>());

    private void Check(IReadOnlyList<Kind> kinds, Mode[] modes)
    {
        ServedCard.SkipWhereImpossible();
        var problems = new ConcurrentBag<string>();
        var rows = new ConcurrentDictionary<(int Kind, Mode Mode), Said>();
        (Kind Kind, int Index, Mode Mode)[] all = [.. kinds.SelectMany((kind, i) => modes.Select(mode => (kind, i, mode)))];
        Parallel.ForEach(all, new ParallelOptions { MaxDegreeOfParallelism = AtOnce }, one =>
        {
            try
            {
                Said said = Prove(one.Kind, one.Mode);
                rows[(one.Index, one.Mode)] = said;
                foreach (string problem in Problems(one.Kind, one.Mode, said))
                {
                    problems.Add($"{one.Kind.Name}, {one.Mode}: {problem} ({said.Statement}; {said.Proof.Finding}, {said.Proof.Counts})");
                }
            }
            catch (Exception e)
            {
                problems.Add($"{one.Kind.Name}, {one.Mode}: {e}");
            }
        });
        output.WriteLine(Table(kinds, rows));
        Assert.True(problems.IsEmpty, string.Join(Environment.NewLine, problems));
    }

    private static Said Prove(Kind kind, Mode mode)
    {
        using var card = new ServedCard($"size={(kind.Bytes == 0 ? CardSize.Now.Bytes : kind.Bytes)} {kind.Traits}");
        if (kind.HasEarlierPass)
        {
            Said.Of(card.DevicePath, Mode.Full, CardSize.Now, seed: 77);
        }

        if (kind.IsDiscarded)
        {
            card.Discard();
        }

        return Said.Of(card.DevicePath, mode, CardSize.Now);
    }

    private static IEnumerable<string> Problems(Kind kind, Mode mode, Said said)
    {
        if (!kind.Allowed(mode).Contains(said.Word))
        {
            yield return $"{said.Word} instead of {string.Join(" or ", kind.Allowed(mode))}";
        }

        if (said.Inconsistency() is { } inconsistency)
        {
            yield return inconsistency;
        }

        if (kind.RoomBytes is { } room && said.Judgement.KeepsAtLeastBytes > room)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"is said to keep at least {said.Judgement.KeepsAtLeastBytes} bytes and has room for {room}");
        }

        if (kind.TrueBytes is { } bytes && said.Word == ProofWord.Overstated && said.Judgement.TrueBytes != bytes)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"{said.Judgement.TrueBytes} true bytes instead of {bytes}");
        }

        if (said.Word == ProofWord.NoOverstatementFound && !said.Judgement.IsWhole && said.Proof.Kind == ProofKind.Sparse
            && !(said.Statement.Contains("unless the card folds addresses together", StringComparison.Ordinal) && said.Statement.Contains("keeps at least", StringComparison.Ordinal)))
        {
            yield return "a sparse pass without its assumption and what is kept at the least";
        }
    }

    private static string Table(IReadOnlyList<Kind> kinds, IReadOnlyDictionary<(int Kind, Mode Mode), Said> rows)
    {
        var text = new StringBuilder("| card | sparse | with a time budget | full |\n|---|---|---|---|\n");
        for (int i = 0; i < kinds.Count; i++)
        {
            int kind = i;
            text.Append("| ").Append(kinds[i].Name).Append(" | ")
                .AppendJoin(" | ", Enum.GetValues<Mode>().Select(mode => rows.TryGetValue((kind, mode), out Said? said) ? Cell(said) : "–")).AppendLine(" |");
        }

        return text.ToString();
    }

    private static string Cell(Said said)
    {
        string word = said.Word switch
        {
            ProofWord.NoOverstatementFound => "none found",
            ProofWord.NotJudged => "not judged",
            ProofWord.Defective => "defective",
            _ => "overstated",
        };
        string verdict = new Verdict(said.Verdict, []).Words;
        return string.Create(CultureInfo.InvariantCulture, $"{word}, {said.ExitCode}, {verdict}");
    }
}
