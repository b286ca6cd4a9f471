using System.Text;

namespace Cardassay.Collector.Tests.Report;

/// <summary>A reader written from the grammar of RFC 4180 section 2, so that the CSV is not checked by the library that wrote it.</summary>
internal static class Rfc4180
{
    public static List<string[]> Parse(string text)
    {
        List<string[]> rows = [];
        List<string> row = [];
        var field = new StringBuilder();
        int i = 0;
        while (i < text.Length)
        {
            if (field.Length == 0 && text[i] == '"')
            {
                i++;
                while (true)
                {
                    if (text[i] == '"' && i + 1 < text.Length && text[i + 1] == '"')
                    {
                        field.Append('"');
                        i += 2;
                    }
                    else if (text[i] == '"')
                    {
                        i++;
                        break;
                    }
                    else
                    {
                        field.Append(text[i++]);
                    }
                }
            }
            else if (text[i] == ',')
            {
                row.Add(field.ToString());
                field.Clear();
                i++;
            }
            else if (text[i] == '\r' && text[i + 1] == '\n')
            {
                row.Add(field.ToString());
                field.Clear();
                rows.Add([.. row]);
                row.Clear();
                i += 2;
            }
            else
            {
                Assert.False(text[i] is '\n' or '"', "a bare line feed or quote outside quotes");
                field.Append(text[i++]);
            }
        }

        Assert.Empty(row);
        return rows;
    }
}
