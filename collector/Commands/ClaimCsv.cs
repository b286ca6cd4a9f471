using System.Globalization;
using Cardassay.Identity;
using CsvHelper;

namespace Cardassay.Collector.Commands;

/// <summary>Claims from a CSV file (RFC 4180, header line, one row per card). Either every row is good or none is taken.</summary>
internal static class ClaimCsv
{
    private const long MaxFileBytes = 16 << 20;

    internal static IReadOnlyList<Claim> Read(string path)
    {
        try
        {
            if (new FileInfo(path).Length > MaxFileBytes)
            {
                throw new CommandException($"--csv {path} is larger than 16 MiB; split it.", 2);
            }

            using var reader = new StreamReader(path);
            return Parse(reader, path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--csv {path} cannot be read: {e.Message}", 2);
        }
    }

    internal static IReadOnlyList<Claim> Parse(TextReader text, string name)
    {
        var problems = new List<string>();
        var claims = new List<Claim>();
        using CsvReader csv = CsvReader.Create(text, new CsvReaderOptions { TrackLineNumbers = true, TrimWhitespace = true });
        try
        {
            List<string> header = [.. csv.Headers];
            if (header.Count == 0)
            {
                throw new CommandException($"{name} is empty: the first line names the columns, see --help-columns.", 2);
            }

            foreach (string unknown in header.Where(h => h != "tag" && ClaimFields.All.All(f => f.Column != h)))
            {
                problems.Add($"line 1: there is no column \"{unknown}\"; see --help-columns.");
            }

            int tag = header.IndexOf("tag");
            if (tag < 0)
            {
                problems.Add("line 1: the column \"tag\" is missing.");
            }

            bool headerIsGood = problems.Count == 0;
            while (headerIsGood && csv.Read())
            {
                var rowProblems = new List<string>();
                if (csv.FieldCount != header.Count)
                {
                    rowProblems.Add(string.Create(CultureInfo.InvariantCulture, $"{csv.FieldCount} fields where the header has {header.Count}."));
                }
                else
                {
                    claims.Add(ClaimFields.Make(
                        csv.GetString(tag),
                        field => header.IndexOf(field.Column) is >= 0 and int at ? csv.GetString(at) : null,
                        field => field.Column,
                        rowProblems));
                }

                problems.AddRange(rowProblems.Select(p => string.Create(CultureInfo.InvariantCulture, $"line {csv.LineNumber}: {p}")));
            }
        }
        catch (CsvFormatException e)
        {
            problems.Add(e.Message);
        }

        return problems.Count == 0
            ? claims
            : throw new CommandException(
                $"{name}: nothing was recorded, mend these lines first:{Environment.NewLine}{string.Join(Environment.NewLine, problems.Select(p => "  " + p))}", 2);
    }
}
