namespace Cardassay.Collector.Commands;

/// <summary>`invite --reader`: links to the page for people on other machines.</summary>
internal static class ReaderInvite
{
    /// <summary>Makes or revokes links, or lists who has one when no name is given.</summary>
    internal static async Task<int> RunAsync(
        OperatorSession session, IReadOnlyList<string> names, string address, bool revoke, bool asJson, CancellationToken cancellationToken)
    {
        if (names.Count == 0)
        {
            await ListAsync(session, asJson, cancellationToken);
            return 0;
        }

        foreach (string name in names)
        {
            if (revoke)
            {
                V1.ReaderShutOut gone = await session.Client.RevokeReaderAsync(new V1.RevokeReaderRequest { Reader = name },
                    cancellationToken: cancellationToken);
                Console.WriteLine($"The link of {Show.Clean(gone.Reader)} no longer counts, and what it had open has ended.");
                continue;
            }

            V1.ReaderLink link = await session.Client.InviteReaderAsync(new V1.InviteReaderRequest { Reader = name, Address = address },
                cancellationToken: cancellationToken);
            if (asJson)
            {
                Show.Json(link);
                continue;
            }

            await Console.Error.WriteLineAsync(
                $"Whoever has this link reads the page, until `invite --reader {Show.Clean(link.Reader)} --revoke`: "
                    + $"keep it to yourself.{(link.Replaces ? " The former one no longer counts." : "")}\n"
                + "The browser warns once, because it does not know this collector. "
                + "Go on only if the certificate it shows has this SHA-256 fingerprint:\n"
                + link.CertificateSha256);
            Console.WriteLine(link.Link); // one line on standard output: what is opened is what is printed
        }

        return 0;
    }

    private static async Task ListAsync(OperatorSession session, bool asJson, CancellationToken cancellationToken)
    {
        V1.ReaderList list = await session.Client.ListReadersAsync(new V1.ListReadersRequest(), cancellationToken: cancellationToken);
        if (asJson)
        {
            Show.Json(list);
            return;
        }

        Console.WriteLine(list.Readers.Count == 0
            ? "Nobody has a link to the page."
            : $"A link to the page have: {string.Join(", ", list.Readers.Select(Show.Clean))}.");
    }
}
