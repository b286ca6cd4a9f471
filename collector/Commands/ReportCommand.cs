using System.CommandLine;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Google.Protobuf;

namespace Cardassay.Collector.Commands;

/// <summary>`report`: the consolidated report in one of its renderings, or all of them.</summary>
internal static class ReportCommand
{
    internal static Command Create()
    {
        var cards = new Argument<string[]>("CARD") { Description = "Only the page of this card, or of several side by side.", Arity = ArgumentArity.ZeroOrMore };
        var full = new Option<bool>("--full") { Description = "Everything, not the first page alone." };
        var allCards = new Option<bool>("--all-cards")
        {
            Description = "With --full, --format, --folder or --json: every card whole. Without it a report on more than 60 cards tells most of them in short.",
        };
        var letter = new Option<string?>("--return") { Description = "The letter to this shop about the cards it sold that are not as claimed; text, or Markdown with --format markdown.", HelpName = "SHOP" };
        var format = new Option<string?>("--format") { Description = "The whole report as terminal, html, markdown, csv or json; without it the first page.", HelpName = "FORMAT" };
        format.AcceptOnlyFromAmong([.. ReportFolder.Renderings.Select(r => r.Format)]);
        var output = new Option<string?>("--output") { Description = "Write to this file instead of standard output.", HelpName = "FILE" };
        var folder = new Option<string?>("--folder") { Description = "Write all five renderings into this folder.", HelpName = "FOLDER" };
        var onChange = new Option<bool>("--on-change") { Description = "With --folder: write only when a verdict changed or something newly needs a person since the report that is there." };
        var profile = new Option<string>("--profile") { Description = "Use profile: system-disk, recorder or data-logger, or a file with weights and floors of your own.", HelpName = "NAME|FILE", DefaultValueFactory = _ => "system-disk" };
        var withAll = new Option<bool>("--with-all") { Description = "Count the runs that were set aside as well." };
        var explain = new Option<string?>("--explain") { Description = "Show the runs and record keys behind one card's figures and verdict.", HelpName = "CARD" };
        var night = new Option<string?>("--night") { Description = "The report as things stood at the end of this night, named by the day it begins (UTC).", HelpName = "YYYY-MM-DD" };
        var command = new Command("report", "Print the first page of the report, a card's page or all of it, or write it to files.\n\nExample: cardassay-collector report T-07 --data ./cards")
        {
            cards, full, allCards, letter, format, output, folder, onChange, profile, withAll, explain, night, CommandLine.Json,
        };
        var publish = new PublishOptions();
        publish.AddTo(command);
        command.SetAction((parsed, cancellationToken) => publish.Listed(parsed) ? Task.FromResult(0) : OperatorSession.ReadAsync(
            parsed,
            async session =>
            {
                var request = new V1.ReportRequest
                {
                    Format = parsed.GetValue(CommandLine.Json) ? "json"
                        : parsed.GetValue(format) ?? (parsed.GetValue(full) || parsed.GetValue(letter) is not null || parsed.GetValue(cards) is { Length: > 0 } ? "terminal" : "first"),
                    Cards = { parsed.GetValue(cards) ?? [] },
                    ReturnShop = parsed.GetValue(letter) ?? "",
                    Profile = parsed.GetValue(profile)!,
                    WithAll = parsed.GetValue(withAll),
                    AllCards = parsed.GetValue(allCards),
                    ExplainTag = parsed.GetValue(explain) ?? "",
                    Night = parsed.GetValue(night) ?? "",
                };
                SetProfile(request);
                if (parsed.GetValue(onChange) && parsed.GetValue(folder) is null)
                {
                    throw new CommandException("--on-change needs --folder: it compares with the report that is there.", 2);
                }

                byte[]? published = await publish.RunAsync(parsed, session, request, cancellationToken);
                if (published is null && parsed.GetValue(folder) is { } into)
                {
                    await ReportFolder.WriteAsync(session, request, into, parsed.GetValue(onChange), cancellationToken);
                    return 0;
                }

                Task WriteAsync(Stream to) => published is null
                    ? ReportFolder.FetchAsync(session, request, to, cancellationToken)
                    : to.WriteAsync(published, cancellationToken).AsTask();

                if (parsed.GetValue(output) is { } path)
                {
                    await WholeFile.WriteAsync(path, WriteAsync);
                }
                else
                {
                    await using Stream standard = Console.OpenStandardOutput();
                    await WriteAsync(standard);
                }

                return 0;
            },
            cancellationToken));
        return command;
    }

    private static void SetProfile(V1.ReportRequest request)
    {
        if (UseProfile.Named(request.Profile) is not null)
        {
            return;
        }

        try
        {
            request.ProfileFile = ByteString.CopyFrom(ForeignFile.Read(request.Profile, ForeignFile.MaxSettingsBytes));
            request.ProfileFileName = request.Profile;
        }
        catch (EvidenceException e)
        {
            throw new CommandException($"--profile: {e.Message}", 2);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(
                $"--profile \"{request.Profile}\" is neither a built-in profile ({string.Join(", ", UseProfile.BuiltIn.Select(p => p.Name))}) nor a readable file: {e.Message}", 2);
        }
    }
}
