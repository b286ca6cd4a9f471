using System.Globalization;
using System.Text.RegularExpressions;

namespace Cardassay.Architecture.Tests;

/// <summary>
/// What is read on one screen: methods of at most 70 lines, files of at most 400, lines of at most 140 characters. What is beyond that
/// stands in untidy.txt with how much it is, and may only become less: an entry is taken out with the last of it.
/// </summary>
public sealed partial class TidyTests
{
    private const int MostMethodLines = 70;
    private const int MostFileLines = 400;
    private const int MostLineCharacters = 140;

    private static readonly string[] s_folders = ["agent", "collector", "deploy", "proto", "shared-core"];

    [Fact]
    public void Sources_AreReadOnOneScreen()
    {
        string root = RoomRules.RepositoryRoot();
        Dictionary<string, Excess> known = File.ReadLines(Path.Combine(root, "tests/architecture/untidy.txt"))
            .Where(line => !line.StartsWith('#')).Select(line => line.Split(' '))
            .ToDictionary(p => p[0], p => new Excess(Number(p[1]), Number(p[2]), Number(p[3])));
        Dictionary<string, Excess> found = Sources(root).ToDictionary(
            file => Path.GetRelativePath(root, file), file => Excess.Of(File.ReadAllLines(file)));
        Assert.True(found.Count > 500, $"only {found.Count} sources were found, so the search is broken");
        string[] worse =
        [
            .. found.Where(f => f.Value.IsBeyond(known.GetValueOrDefault(f.Key)))
                .Select(f => $"{f.Key} {f.Value}; in untidy.txt: {known.GetValueOrDefault(f.Key)}"),
            .. known.Keys.Where(file => found.GetValueOrDefault(file) == default)
                .Select(file => $"{file} is tidy or gone: take it out of untidy.txt"),
        ];
        Assert.True(worse.Length == 0,
            "Excess as in untidy.txt: long lines, lines of the file, lines of methods.\n" + string.Join('\n', worse));
    }

    [Fact]
    public void Excess_OfASource_IsCounted()
    {
        string[] body = [.. Enumerable.Repeat("        A();", MostMethodLines)];
        Assert.Equal(default, Excess.Of(["class C", "{", "    void M()", "    {", .. body[3..], "    }", "}"]));
        Assert.Equal(new Excess(0, 0, 3), Excess.Of(["class C", "{", "    void M()", "    {", .. body, "    }", "}"]));
        string[] lambda = ["        B(x =>", "        {", .. body.Select(l => "    " + l), "        });"];
        Assert.Equal(new Excess(0, 0, 4), Excess.Of(["class C", "{", "    void M() =>", .. lambda, "    int N => 1;", "}"]));
        Assert.Equal(new Excess(0, 0, 3), Excess.Of(["class C(", "    int a,", "    int b)", "{", "    void M()", "    {", .. body, "    }", "}"]));
        Assert.Equal(new Excess(0, 0, 1), Excess.Of(
        [
            "class C", "{", "    class D", "    {", "        void M()", "        {", .. body[2..].Select(l => "    " + l), "        }", "    }", "}",
        ]));
        Assert.Equal(new Excess(1, 2, 0), Excess.Of([new string('x', 141), new string('x', 140), .. Enumerable.Repeat("", 400)]));
    }

    private static int Number(string text) => int.Parse(text, CultureInfo.InvariantCulture);

    private static IEnumerable<string> Sources(string root) => s_folders
        .SelectMany(folder => Directory.EnumerateFiles(Path.Combine(root, folder), "*.cs", SearchOption.AllDirectories))
        .Where(file => !file.Contains("/obj/", StringComparison.Ordinal) && !file.Contains("/bin/", StringComparison.Ordinal));

    private readonly record struct Excess(int LongLines, int FileLines, int MethodLines)
    {
        public static Excess Of(string[] lines) => new(
            lines.Count(line => line.Length > MostLineCharacters),
            Math.Max(0, lines.Length - MostFileLines),
            Members(lines, 4).Sum(length => Math.Max(0, length - MostMethodLines)));

        public bool IsBeyond(Excess known) =>
            LongLines > known.LongLines || FileLines > known.FileLines || MethodLines > known.MethodLines;

        public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{LongLines} {FileLines} {MethodLines}");

        /// <summary>
        /// Lengths of the members at an indentation, which is all that is looked at: sources are formatted. A type's members count
        /// instead of it.
        /// </summary>
        private static IEnumerable<int> Members(string[] lines, int indent)
        {
            int start = -1;
            int open = 0;
            for (int i = 0; i < lines.Length; i++)
            {
                string text = lines[i].TrimStart(' ');
                int at = lines[i].Length - text.Length;
                if (text.Length == 0 || text[0] is '/' or '[' or '#' || (start < 0 && (at > indent || text[0] is '{' or '}')))
                {
                    continue;
                }

                if (at < indent)
                {
                    (start, open) = (-1, 0); // the parameters of a type end before its members begin
                    continue;
                }

                start = start < 0 ? i : start;
                string code = Literal().Replace(text, "");
                open += code.Count(c => c is '(' or '[' or '{') - code.Count(c => c is ')' or ']' or '}');
                bool ends = (at == indent && text[0] == '}') || (open <= 0 && text[^1] is ';' or '}');
                if (!ends)
                {
                    continue;
                }

                if (!Type().IsMatch(lines[start].TrimStart(' ')))
                {
                    yield return i - start + 1;
                }
                else if (i > start)
                {
                    foreach (int length in Members(lines[(start + 1)..i], indent + 4))
                    {
                        yield return length;
                    }
                }

                (start, open) = (-1, 0);
            }
        }
    }

    [GeneratedRegex("""
        "(\\.|[^"\\])*"|'(\\.|[^'\\])'|\s//.*
        """)]
    private static partial Regex Literal();

    [GeneratedRegex("^((public|internal|private|protected|static|sealed|abstract|partial|readonly|file|ref|new) )*"
        + "(class|record|struct|interface|enum) ")]
    private static partial Regex Type();
}
