using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Agent.Commands;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>Event numbers are for good: each means one thing, is told somewhere, and is in the table a person reads.</summary>
public sealed partial class AgentEventTests
{
    /// <summary>Written down a second time on purpose: whoever changes a number changes what somebody's alarm waits for.</summary>
    private static readonly (int Number, string Name)[] ForGood =
    [
        (3001, "Begun"), (3002, "Stopped"), (3003, "RecordsLost"), (3004, "RunCutOff"), (3005, "Ended"),
        (3101, "CollectorAway"), (3102, "CollectorRefuses"), (3103, "CollectorStrange"), (3104, "CertificateRenewed"), (3105, "CertificateNotRenewed"),
        (3201, "CardSeen"), (3202, "CardTakenOut"), (3203, "CardStep"),
        (3301, "RunWaits"), (3302, "RunAnnounced"), (3303, "RunCompleted"), (3304, "RunNotCompleted"),
        (3305, "ContentPrepared"), (3306, "TrialMeasured"), (3307, "ProofGoesOn"), (3308, "ProofEnded"), (3309, "ProofBegunAnew"),
    ];

    [Fact]
    public void Numbers_AreThoseOfAllTime_AndDifferent()
    {
        // By name: two names of one number would be one value.
        (int, string)[] now = [.. Enum.GetNames<AgentEvent>().Select(name => ((int)Enum.Parse<AgentEvent>(name), name)).Order()];
        Assert.Equal(ForGood, now);
        Assert.Equal(now.Length, now.Select(e => e.Item1).Distinct().Count());
        Assert.All(now, e => Assert.InRange(e.Item1, 3000, 3999)); // 2000 to 2999 are the collector's
    }

    [Fact]
    public void Table_InTheReadme_NamesEveryEventWithItsLevel()
    {
        string readme = File.ReadAllText(Path.Combine(RepositoryRoot(), "collector", "Observability", "README.md"));
        (int, string)[] table = [.. Row().Matches(readme).Select(m => (int.Parse(m.Groups[1].Value, CultureInfo.InvariantCulture), m.Groups[2].Value))];
        var journal = new ServiceLine(isForJournal: true);
        (int, string)[] told = [.. Enum.GetValues<AgentEvent>().Select(e => ((int)e, journal.Of(e, "text")[..3] switch
        {
            "<3>" => "Error", // the numbers of syslog(3)
            "<4>" => "Warning",
            "<6>" => "Information",
            string other => other,
        }))];
        Assert.Equal(told, table); // in the order of the numbers
    }

    [Fact]
    public void Events_AreAllTold_AndNoLineOfTheServiceHasNone()
    {
        string[] files = Directory.GetFiles(Path.Combine(RepositoryRoot(), "agent"), "*.cs", SearchOption.AllDirectories);
        (string Name, string Text)[] sources = [.. files.Where(f => !f.Contains($"{Path.DirectorySeparatorChar}obj{Path.DirectorySeparatorChar}", StringComparison.Ordinal))
            .Select(f => (Path.GetFileName(f), File.ReadAllText(f)))];
        string tellers = string.Concat(sources.Where(s => s.Name is not ("AgentEvent.cs" or "ServiceLine.cs")).Select(s => s.Text));
        Assert.All(Enum.GetNames<AgentEvent>(), name => Assert.Matches($@"AgentEvent\.{name}\b", tellers));

        // Lines without a number belong to runs started by hand.
        string[] unnumbered = [.. sources.Where(s => Unnumbered().IsMatch(s.Text)).Select(s => s.Name).Order(StringComparer.Ordinal)];
        Assert.Equal(["MeasureCommand.cs", "ProveCommand.cs", "Reinsertion.cs"], unnumbered);
    }

    [Fact]
    public void Line_OfTheService_EndsWithItsNumber()
    {
        using var lines = new StringWriter(CultureInfo.InvariantCulture);
        new RunDisplay(lines, isTerminal: false, service: new ServiceLine(isForJournal: false)).Line(AgentEvent.CollectorAway, "The collector is away\u001b[1m.");
        new RunDisplay(lines, isTerminal: false, service: new ServiceLine(isForJournal: true)).Line(AgentEvent.CollectorAway, "<0>The collector is away.");
        new RunDisplay(lines, isTerminal: false).Line(AgentEvent.CollectorAway, "The collector is away.");
        Assert.Equal(
            ["The collector is away\uFFFD[1m. (event 3101)", "<4><0>The collector is away. (event 3101)", "The collector is away."],
            lines.ToString().Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries));
    }

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

    [GeneratedRegex(@"^\| (3\d{3}) \| (\w+) \| .+ \|$", RegexOptions.Multiline)]
    private static partial Regex Row();

    [GeneratedRegex(@"\b[dD]isplay\.Line\((?!AgentEvent\.|done\.Ok \? AgentEvent\.)")]
    private static partial Regex Unnumbered();
}
