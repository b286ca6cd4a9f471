using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Exchange.Publishing.Picture;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;

namespace Cardassay.Collector.Commands;

/// <summary>`report --publish`: a table for a post, and the raw records behind it.</summary>
internal sealed class PublishOptions
{
    private readonly Option<string?> _publish = new("--publish")
    {
        Description = "Print a table for a post or a video description: markdown or html.",
        HelpName = "FORMAT",
    };
    private readonly Option<string?> _columns = new("--columns")
    {
        Description = "With --publish: columns, separated by commas; see --help-columns.",
        HelpName = "LIST",
    };
    private readonly Option<string?> _cards = new("--cards")
    {
        Description = "With --publish: show these cards only, separated by commas. Ranks stay among all cards.",
        HelpName = "TAGS",
    };
    private readonly Option<bool> _prices = new("--prices") { Description = "With --publish: publish prices as well." };
    private readonly Option<string?> _evidence = new("--evidence")
    {
        Description = "With --publish: write the raw records as a zip that `verify` checks the table against.",
        HelpName = "FILE.zip",
    };
    private readonly Option<string?> _link = new("--link")
    {
        Description = "With --publish: where the zip will be found, https://...; the table then links to it.",
        HelpName = "ADDRESS",
    };
    private readonly Option<string?> _picture = new("--picture")
    {
        Description = "With --publish: write the ranking as a picture of 1280 x 720, FILE.png or FILE.svg.",
        HelpName = "FILE",
    };
    private readonly Option<bool> _helpColumns = new("--help-columns") { Description = "List the columns of --publish and stop." };

    internal void AddTo(Command command)
    {
        _publish.AcceptOnlyFromAmong("markdown", "html");
        foreach (Option option in (Option[])[_publish, _columns, _cards, _prices, _evidence, _link, _picture, _helpColumns])
        {
            command.Options.Add(option);
        }
    }

    /// <summary>True after the columns were listed on request.</summary>
    internal bool Listed(ParseResult parsed)
    {
        if (!parsed.GetValue(_helpColumns))
        {
            return false;
        }

        foreach (PublicationColumn column in PublicationColumns.All)
        {
            Console.WriteLine($"{column.Key}: {column.Meaning}");
        }

        return true;
    }

    /// <summary>The table to publish, or null when none was asked for. Writes the zip beside it when asked to.</summary>
    internal async Task<byte[]?> RunAsync(
        ParseResult parsed, OperatorSession session, V1.ReportRequest request, CancellationToken cancellationToken)
    {
        string? format = parsed.GetValue(_publish);
        if (format is null)
        {
            return parsed.GetValue(_columns) is null && parsed.GetValue(_cards) is null && parsed.GetValue(_evidence) is null
                && parsed.GetValue(_link) is null && parsed.GetValue(_picture) is null && !parsed.GetValue(_prices)
                ? null
                : throw new CommandException("--columns, --cards, --prices, --evidence, --link and --picture need --publish "
                    + "markdown or --publish html.", 2);
        }

        string? link = parsed.GetValue(_link);
        string? picture = parsed.GetValue(_picture);
        Check(request, link, picture);
        bool ownProfile = request.ProfileFile.Length > 0;
        var options = new PublicationOptions
        {
            Columns = List(parsed.GetValue(_columns)) is { Count: > 0 } columns ? columns : PublicationColumns.Default,
            Cards = List(parsed.GetValue(_cards)),
            Prices = parsed.GetValue(_prices),
            Link = link,
            Profile = ownProfile ? "profile.json" : request.Profile,
        };
        (EntrySpool entries, _) = await EntryFeed.FetchAsync(session, cancellationToken);
        using EntrySpool held = entries;
        Evidence evidence;
        (IReadOnlyList<Shape> Shapes, string Text) drawn;
        try
        {
            evidence = new Publisher(ReportDesk.Model).Make(held.Entries(), options, ownProfile ? request.ProfileFile.ToByteArray() : null);
            drawn = picture is null ? ([], "") : RankingPicture.Of(evidence.Report!, evidence.Options);
        }
        catch (ArgumentException e)
        {
            throw new CommandException(e.Message, 2);
        }

        if (parsed.GetValue(_evidence) is { } path)
        {
            await WholeFile.WriteAsync(path, to => Task.Run(() => EvidenceZip.Write(evidence, to), cancellationToken), "--evidence");
            await Console.Error.WriteLineAsync(string.Create(
                CultureInfo.InvariantCulture,
                $"{path} holds {evidence.Records} raw records without host names, board names and paths, but with card serial numbers; "
                    + $"its README.txt says what is in it. Check it with `verify`."));
        }

        if (picture is not null)
        {
            await WholeFile.WriteAsync(picture,
                to => Task.Run(() => PictureFile.Write(picture, drawn.Shapes, drawn.Text, to), cancellationToken), "--picture");
        }

        return System.Text.Encoding.UTF8.GetBytes(format == "html" ? evidence.Html : evidence.Markdown);
    }

    private static void Check(V1.ReportRequest request, string? link, string? picture)
    {
        if (request.WithAll)
        {
            throw new CommandException("--with-all counts what was set aside for a reason; publish without it.", 2);
        }

        if (request.Night.Length > 0)
        {
            throw new CommandException("A publication holds everything that was measured, so that it can be checked; "
                + "publish without --night.", 2);
        }

        if (link is not null && !PublicationOptions.IsLink(link))
        {
            throw new CommandException($"--link: \"{link}\" is no address of a page; write it whole, "
                + "as https://cards.example/cards.zip.", 2);
        }

        if (picture is not null && !PictureFile.IsKnown(picture))
        {
            throw new CommandException($"--picture: \"{picture}\" ends neither in .png nor in .svg.", 2);
        }
    }

    private static List<string> List(string? text) =>
        [.. (text ?? "").Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries)];
}
