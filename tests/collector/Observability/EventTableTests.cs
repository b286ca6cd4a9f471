using System.Globalization;
using System.Reflection;
using System.Text.RegularExpressions;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Observability;
using Microsoft.Extensions.Logging;

namespace Cardassay.Collector.Tests.Observability;

/// <summary>Event numbers are for good: each means one thing, and the table a person reads names every one.</summary>
public sealed partial class EventTableTests
{
    private static readonly (int Number, string Level, string Message)[] Logged =
    [
        .. typeof(EventNumbers).Assembly.GetTypes()
            .SelectMany(t => t.GetMethods(BindingFlags.Static | BindingFlags.Instance | BindingFlags.Public | BindingFlags.NonPublic | BindingFlags.DeclaredOnly))
            .Select(m => m.GetCustomAttribute<LoggerMessageAttribute>())
            .OfType<LoggerMessageAttribute>()
            .Select(a => (a.EventId, a.Level.ToString(), a.Message))
            .Order(),
    ];

    [Fact]
    public void Numbers_OfAllEvents_AreDifferent()
    {
        Assert.True(Logged.Length >= 15, $"only {Logged.Length} events were found, so the search is broken");
        Assert.Equal(Logged.Length, Logged.Select(e => e.Number).Distinct().Count());
        Assert.All(Logged, e => Assert.InRange(e.Number, 2000, 2999));
    }

    [Fact]
    public void Numbers_AreThoseOfTheList_AndNoneIsUnused()
    {
        int[] listed = [.. typeof(EventNumbers).GetFields(BindingFlags.Static | BindingFlags.NonPublic).Select(f => (int)f.GetRawConstantValue()!).Order()];
        Assert.Equal(listed, Logged.Select(e => e.Number));
    }

    [Fact]
    public void Table_InTheReadme_NamesEveryEventWithLevelAndMessage()
    {
        string readme = File.ReadAllText(Path.Combine(RepositoryRoot(), "collector", "Observability", "README.md"));
        (int, string, string)[] table =
        [
            .. Row().Matches(readme).Select(m => (int.Parse(m.Groups[1].Value, CultureInfo.InvariantCulture), m.Groups[2].Value, m.Groups[3].Value)),
        ];
        Assert.Equal(Logged, table); // in the order of the numbers
    }

    internal static string RepositoryRoot()
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

    /// <summary>Rows of the collector's own events; those of the agent, from 3000 on, have a table and a test of their own.</summary>
    [GeneratedRegex(@"^\| (2\d{3}) \| (\w+) \| (.*) \|$", RegexOptions.Multiline)]
    private static partial Regex Row();
}
