using System.Text;
using Cardassay.Trust;

namespace Cardassay.Agent.Commands;

/// <summary>Plain text of 80 columns: headings, labelled rows, paragraphs with a hanging indent.</summary>
internal sealed class PageText
{
    internal const int Columns = 80;
    private const int LabelColumns = 20;
    private readonly StringBuilder _text = new();

    internal void Heading(string text) => _text.Append('\n').Append(text).Append('\n');

    /// <summary>A label and its value; the value goes on below itself.</summary>
    internal void Row(string label, string value) => Paragraph(("  " + label).PadRight(LabelColumns) + value, LabelColumns);

    /// <summary>Text that goes on below the label column of a row.</summary>
    internal void Below(string text) => Paragraph(new string(' ', LabelColumns) + text, LabelColumns);

    /// <summary>A row whose value is never broken, because people copy it.</summary>
    internal void Whole(string label, string value) =>
        _text.Append(("  " + label).PadRight(LabelColumns)).Append(PlainText.Clean(value)).Append('\n');

    /// <summary>Wraps a text; its own leading spaces are kept, later lines begin at the hanging indent.</summary>
    internal void Paragraph(string text, int hanging)
    {
        string clean = PlainText.Clean(text);
        int lead = clean.Length - clean.TrimStart(' ').Length;
        var line = new StringBuilder(new string(' ', lead));
        bool isEmpty = true;
        foreach (string word in Words(clean[lead..], Columns - Math.Max(hanging, lead)))
        {
            if (!isEmpty && line.Length + word.Length > Columns)
            {
                End(line);
                line.Append(' ', hanging);
                line.Append(word.TrimStart(' '));
            }
            else
            {
                line.Append(word);
            }

            isEmpty = false;
        }

        End(line);
    }

    public override string ToString() => _text.ToString();

    /// <summary>The words, each with the spaces before it; one longer than a line is cut.</summary>
    private static IEnumerable<string> Words(string text, int longest)
    {
        for (int at = 0; at < text.Length;)
        {
            int start = at;
            while (at < text.Length && text[at] == ' ')
            {
                at++;
            }

            int word = at;
            while (at < text.Length && text[at] != ' ' && at - word < longest)
            {
                at++;
            }

            yield return text[start..at];
        }
    }

    private void End(StringBuilder line)
    {
        _text.Append(line.ToString().TrimEnd(' ')).Append('\n');
        line.Clear();
    }
}
