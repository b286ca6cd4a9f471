using System.Globalization;
using System.Text;
using Cardassay.Fixtures;

namespace Cardassay.EndToEnd.Tests;

/// <summary>
/// Every control and format character of Unicode that an argument can bear, typed as tag, product, shop, reason, plan and file name: the programs show
/// none of them, in nothing they print or write.
/// </summary>
[Collection("machine")]
public sealed class HostileTextTests : IDisposable
{
    /// <summary>All but NUL, which ends an argument.</summary>
    private static readonly Rune[] Hidden = [.. HiddenCharacters.All.Where(r => r.Value != 0)];

    private static readonly string All = Between(Hidden);

    /// <summary>The longest of it that a file name may have, 255 bytes (NAME_MAX of limits.h), without the two that end it.</summary>
    private static readonly string Name = Between(Hidden.Take(90));

    /// <summary>The same in pieces that a claim may have.</summary>
    private static readonly string[] Pieces = [.. Hidden.Chunk(60).Select(Between)];

    private readonly Workshop _workshop = new();
    private readonly StringBuilder _seen = new();

    [Fact]
    public void Text_FullOfThem_ReachesNoTerminalPageOrFile()
    {
        (Running serving, string address, string page) = _workshop.Serve();
        using (serving)
        {
            Said(_workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "T-1", "--collector", address));
            Said(_workshop.Collector("claim", All, "--maker", All, "--product", All, "--bought-at", All, "--marks", All, "--price", "1", "--currency", "XTS")); // too long
            for (int i = 0; i < Pieces.Length; i++)
            {
                string piece = Pieces[i];
                foreach (string tag in new[] { string.Create(CultureInfo.InvariantCulture, $"T-{i}"), piece })
                {
                    Said(_workshop.Collector("claim", tag, "--maker", piece, "--product", piece, "--bought-at", piece, "--gigabytes", "64", "--price", "1", "--currency", "XTS"));
                }
            }

            Assert.Contains("T-1", Said(_workshop.Collector("cards")), StringComparison.Ordinal);
            Said(_workshop.Collector("cards", "--in", All, "--tag", All));
            Said(_workshop.Collector("status"));
            Said(_workshop.Collector("status", "--acknowledge", All, "--reason", All));
            Said(_workshop.Collector("boards"));
            Said(_workshop.Collector("invite", All));
            Said(_workshop.Collector("schedule", All, All, "--tag", All, "--plan", All, "--from", All));
            Said(_workshop.Collector("report"));
            Said(_workshop.Collector("report", "--full"));
            Said(_workshop.Collector("report", "T-1"));
            Said(_workshop.Collector("report", All));
            Said(_workshop.Collector("report", "--return", All));
            Said(_workshop.Collector("report", "--json"));
            Said(_workshop.Collector("report", "--folder", Path.Combine(_workshop.Root, "report")));
            Said(_workshop.Collector("export", "--format", All, "--output", All));
            Said(_workshop.Collector("export", "--format", "csv", "--output", Path.Combine(_workshop.Root, "report", "figures-of-export.csv")));
            string file = Path.Combine(_workshop.Root, Name);
            File.WriteAllText(file, $"tag,{All},4k read\n{All},x,12\n");
            foreach (string command in new[] { "import", "verify", "restore", "backup" })
            {
                Said(_workshop.Collector([command, file, .. command == "restore" ? ["--into", file] : Array.Empty<string>()]));
            }

            Said(_workshop.Collector("claim", "--csv", file));
            Said(_workshop.Collector(All));
            File.WriteAllText(file, "{ \"name\": \"" + All.Replace("\"", "", StringComparison.Ordinal) + "\" }");
            Said(_workshop.Agent("measure", _workshop.Scratch, "--plan", file, "--tag", All));
            Said(_workshop.Agent("measure", file, "--tag", All));
            Said(_workshop.Agent("prove", file));
            Said(_workshop.Agent("join", All));
            Said(_workshop.Agent(All));
            using var client = new HttpClient();
            foreach (string path in new[] { "/", "/report", "/live" })
            {
                Shown($"page {path}", client.GetAsync(new Uri(page.TrimEnd('/') + path)).Result.Content.ReadAsStringAsync().Result);
            }
        }

        Assert.True(_seen.Length > 20_000, $"{_seen.Length} characters looked at");
        foreach (string file in Directory.EnumerateFiles(Path.Combine(_workshop.Root, "report"), "*", SearchOption.AllDirectories))
        {
            Shown(Path.GetFileName(file), File.ReadAllText(file));
        }
    }

    public void Dispose() => _workshop.Dispose();

    private string Said(Finished finished, [System.Runtime.CompilerServices.CallerLineNumber] int line = 0)
    {
        Assert.True(finished.Errors.Length + finished.Output.Length > 0, $"line {line}: it said nothing");
        Assert.DoesNotContain("   at ", finished.Errors, StringComparison.Ordinal); // a stack trace is no answer
        Shown($"output of line {line}", finished.Output);
        Shown($"errors of line {line}", finished.Errors);
        return finished.Output;
    }

    private void Shown(string what, string text)
    {
        _seen.Append(text);
        IReadOnlyList<Rune> hidden = HiddenCharacters.In(text, "\r\n");
        Assert.True(hidden.Count == 0, $"{what} shows {string.Join(", ", hidden.Select(r => $"U+{r.Value:X4}"))}: {text}");
    }

    /// <summary>Visible at both ends, so that nothing trims them.</summary>
    private static string Between(IEnumerable<Rune> runes) => "A" + string.Concat(runes) + "Z";
}
