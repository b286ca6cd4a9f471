using System.Text.RegularExpressions;

namespace Cardassay.Architecture.Tests;

/// <summary>
/// The table of faults in tests/README.md is what `tests/full-sweeps` runs: each row names tests, and these are there. A filter that
/// matches nothing would pass without a word.
/// </summary>
public sealed partial class FaultTableTests
{
    [Fact]
    public void Rows_NameTestsThatExist()
    {
        string tests = Path.Combine(RoomRules.RepositoryRoot(), "tests");
        string[] rows =
        [
            .. File.ReadLines(Path.Combine(tests, "README.md")).SkipWhile(l => !l.StartsWith("| fault ", StringComparison.Ordinal)).Skip(2)
                .TakeWhile(l => l.StartsWith('|')),
        ];
        Assert.True(rows.Length >= 20, $"only {rows.Length} rows were found, so the search is broken");
        foreach (string row in rows)
        {
            string[] named = [.. Entry().Matches(row).Select(m => m.Groups[1].Value)];
            Assert.True(named.Length > 0, $"no test is named in: {row}");
            Assert.All(named, test =>
            {
                string path = Path.Combine(tests, test);
                bool isThere = Directory.Exists(path)
                    ? Directory.GetFiles(path, "*Tests.cs").Length > 0
                    : File.Exists(path + ".cs") && File.ReadAllText(path + ".cs").Contains($"class {Path.GetFileName(path)}", StringComparison.Ordinal);
                Assert.True(isThere, $"{test} is not there; it is named in: {row}");
            });
        }
    }

    [GeneratedRegex("`([a-z-]+/[A-Za-z/]+)`")]
    private static partial Regex Entry();
}
