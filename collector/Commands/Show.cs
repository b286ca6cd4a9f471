using System.Globalization;
using Cardassay.Trust;
using Google.Protobuf;
using Spectre.Console;

namespace Cardassay.Collector.Commands;

/// <summary>How commands print tables and JSON.</summary>
internal static class Show
{
    /// <summary>Prints a table as wide as the terminal, or as wide as it needs when piped.</summary>
    /// <param name="title">A line above it.</param>
    /// <param name="headings">Headings of the columns.</param>
    /// <param name="rows">The cells.</param>
    /// <param name="whole">Columns whose cells are not broken into lines, so that the others take what is left.</param>
    internal static void Table(
        string title, IReadOnlyList<string> headings, IEnumerable<IReadOnlyList<string>> rows, params IReadOnlyCollection<string> whole) =>
        Table(Out(), title, headings, rows.Select(row => row.Select(Clean)), whole);

    /// <summary>The same for cells of several lines, each of which is clean already.</summary>
    internal static void TableOfLines(
        string title, IReadOnlyList<string> headings, IEnumerable<IReadOnlyList<string>> rows, params IReadOnlyCollection<string> whole) =>
        Table(Out(), title, headings, rows, whole);

    /// <summary>What <see cref="TableOfLines"/> prints on a terminal of so many columns.</summary>
    internal static string OfLines(int columns, string title, IReadOnlyList<string> headings, IEnumerable<IReadOnlyList<string>> rows,
        params IReadOnlyCollection<string> whole)
    {
        using var text = new StringWriter(CultureInfo.InvariantCulture);
        IAnsiConsole console = AnsiConsole.Create(new AnsiConsoleSettings { Ansi = AnsiSupport.No, Out = new AnsiConsoleOutput(text) });
        console.Profile.Width = columns;
        Table(console, title, headings, rows, whole);
        return text.ToString();
    }

    private static void Table(IAnsiConsole console, string title, IReadOnlyList<string> headings, IEnumerable<IEnumerable<string>> rows,
        params IReadOnlyCollection<string> whole)
    {
        var table = new Table { Border = TableBorder.Simple, Title = null };
        foreach (string heading in headings)
        {
            var column = new TableColumn(new Text(Clean(heading))) { NoWrap = whole.Contains(heading) };
            table.AddColumn(whole.Count > 0 ? column.PadLeft(0).PadRight(1) : column);
        }

        int count = 0;
        foreach (IEnumerable<string> row in rows)
        {
            table.AddRow(row.Select(cell => new Text(PlainText.CleanLines(cell))));
            count++;
        }

        console.WriteLine(Clean(title));
        if (count > 0)
        {
            console.Write(table);
        }
    }

    /// <summary>Prints what a report says otherwise of which card.</summary>
    internal static void Changes(IReadOnlyCollection<V1.CardChange> changes, string title)
    {
        if (changes.Count == 0)
        {
            Console.WriteLine("No card, claim, identity, reference or verdict changes.");
            return;
        }

        string last = "";
        Table(title, ["Card", "What", "Before", "After"], changes.Select(c =>
        {
            (string card, last) = (c.Card == last ? "" : c.Card, c.Card);
            return (IReadOnlyList<string>)[card, c.What, Or(c.Before), Or(c.After)];
        }), "Card", "What");

        static string Or(string text) => text.Length > 0 ? text : "nothing";
    }

    /// <summary>Prints a paragraph, broken between words where the terminal ends.</summary>
    internal static void Paragraph(string text) => Out().Write(new Text(Clean(text) + "\n"));

    /// <summary>Prints a message as JSON.</summary>
    internal static void Json(IMessage message) => Console.WriteLine(MessageJson.Render(message));

    /// <summary>Text from outside without anything a terminal would obey.</summary>
    internal static string Clean(string text) => PlainText.Clean(text);

    private static IAnsiConsole Out()
    {
        IAnsiConsole console = AnsiConsole.Create(
            new AnsiConsoleSettings { Ansi = AnsiSupport.No, Out = new AnsiConsoleOutput(Console.Out) });
        if (Console.IsOutputRedirected)
        {
            console.Profile.Width = 160;
        }

        return console;
    }

    /// <summary>
    /// A moment in the time zone of the machine the command runs on, with the zone, as `schedule` shows its
    /// times. The report alone speaks UTC.
    /// </summary>
    internal static string Time(long unixNs) => new ScheduleTimes(TimeProvider.System.GetUtcNow(), TimeZoneInfo.Local).Stamp(unixNs);

    internal static string Duration(double seconds) => seconds switch
    {
        < 90 => string.Create(CultureInfo.InvariantCulture, $"{seconds:0} s"),
        < 5400 => string.Create(CultureInfo.InvariantCulture, $"{seconds / 60:0} min"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{seconds / 3600:0.0} h"),
    };
}
