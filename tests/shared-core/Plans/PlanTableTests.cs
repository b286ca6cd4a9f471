using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Plans;

namespace Cardassay.SharedCore.Tests.Plans;

/// <summary>The table of the README says of every built-in plan what the plan itself does.</summary>
public sealed partial class PlanTableTests
{
    private static readonly long[] CardBytes = [8_000_000_000, 32_000_000_000, 128_000_000_000];

    [Fact]
    public void Table_InTheReadme_IsWhatThePlansSay()
    {
        string readme = File.ReadAllText(Path.Combine(RepositoryRoot(), "README.md"));
        IEnumerable<string> rows = Row().Matches(readme).Select(m => m.Value);
        Assert.Equal(string.Join('\n', BuiltInPlans.Names.Select(Expected)), string.Join('\n', rows));
    }

    // By hand: half of 8 GB and 2 GiB, then what that left of the card; one and a half times the card is the most that is written at all.
    [Fact]
    public void SystemDisk_OnCards_KeepsItsBudgetAndProvesWhereItHasRoom()
    {
        Plan plan = BuiltInPlans.Find("system-disk")!;
        Assert.Equal(1.5, plan.Limits.MaxCapacities);
        Assert.Equal([false, false, false, true, true], ((long[])[8, 16, 32, 64, 128]).Select(gigabytes => PlanEstimate.ProofFits(plan, gigabytes * 1_000_000_000)));
        Assert.All(CardBytes, bytes => Assert.Equal(bytes * 3 / 2, PlanEstimate.Of(plan, bytes, fillsEverything: false).WriteBytesAtMost));

        // Without the budget the pass over the whole card, the long write in it, has room in every one of them.
        Plan once = plan with { Proof = PlanProof.None, Steps = [plan.Steps[0] with { Repetitions = Repetitions.Fixed(1) }] };
        Assert.All(CardBytes, bytes => Assert.InRange(PlanEstimate.Of(once, bytes, fillsEverything: false).WriteBytesAtMost, bytes - 4096, bytes + (128L << 20)));
    }

    private static string Expected(string name)
    {
        Plan plan = BuiltInPlans.Find(name)!;
        return $"| `{name}` | {string.Join(" | ", CardBytes.Select(bytes => Cell(plan, bytes)))} |";
    }

    private static string Cell(Plan plan, long bytes)
    {
        plan = plan.Proof.IsWanted && !PlanEstimate.ProofFits(plan, bytes) ? plan with { Proof = PlanProof.None } : plan;
        PlanEstimate estimate = PlanEstimate.Of(plan, bytes, fillsEverything: false);
        string least = Time(estimate.SecondsAtLeast), most = Time(estimate.SecondsAtMost);
        return string.Create(
            CultureInfo.InvariantCulture, $"{(least == most ? most : $"{least} to {most}")}; {estimate.WriteBytesAtMost / 1e9:0.#} GB; {estimate.WriteBytesAtMost / (double)bytes:0.##}");
    }

    private static string Time(double seconds) => seconds < 90 ? string.Create(CultureInfo.InvariantCulture, $"{seconds:0} s")
        : seconds < 5_400 ? string.Create(CultureInfo.InvariantCulture, $"{seconds / 60:0} min")
        : string.Create(CultureInfo.InvariantCulture, $"{seconds / 3_600:0.#} h");

    [GeneratedRegex(@"^\| `[a-z-]+` \|[^\n]*; [0-9.]+ \|$", RegexOptions.Multiline)]
    private static partial Regex Row();

    private static string RepositoryRoot()
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
            {
                return folder.FullName;
            }
        }

        throw new InvalidOperationException("Cardassay.slnx was not found above the test's folder.");
    }
}
